// Fused says where a processor would compute x*y + z with one rounding, in the
// code whose results must be the same bits on every processor. From the top of
// the tree:
//
//	go run .ci/fused/*.go        # fails and prints file and line of each
//	go run .ci/fused/*.go -w     # writes float64(…) around the products of sums
//
// Go lets a compiler fuse a product with the sum that it goes into, unless the
// product is converted explicitly (language specification, "Floating-point
// operators"). arm64 fuses, and amd64 from GOAMD64=v3 on; the check compiles for
// both and looks for the instructions. It also says where such code calls a
// function of package math that differs between processors.
package main

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// packages hold the way from the bytes of a receiver to the bytes of a result.
var packages = []string{"./nmea/...", "./sections/...", "./sim", "./sim/chance", "./sim/drive", "./sim/hydraulics", "./sim/receiver"}

func main() {
	write := flag.Bool("w", false, "write float64(…) around products that go into a sum")
	flag.Parse()
	if err := run(*write); err != nil {
		fmt.Fprintln(os.Stderr, "fused:", err)
		os.Exit(1)
	}
}

func run(write bool) error {
	if write {
		return wrapAll()
	}
	found, err := fused()
	if err != nil {
		return err
	}
	calls, err := differingCalls()
	if err != nil {
		return err
	}
	found = append(found, calls...)
	for _, f := range found {
		fmt.Println(f)
	}
	if len(found) > 0 {
		return fmt.Errorf("%d places that differ between processors; write float64(x*y) where a product goes into a sum, and call sections/exact", len(found))
	}
	return nil
}

// instruction is a line of the assembly listing whose instruction rounds a product
// and a sum once: file and line, and its name.
var instruction = regexp.MustCompile(`\(([^()]+:\d+)\)\t(FN?M(?:ADD|SUB)[SD]|VFN?M(?:ADD|SUB)\d+S[SD])\b`)

// fused returns what the compiler fuses for each processor that can.
func fused() ([]string, error) {
	var found []string
	for _, env := range []string{"GOARCH=arm64", "GOARCH=amd64 GOAMD64=v3"} {
		cmd := exec.Command("go", append([]string{"build", "-gcflags=-S"}, packages...)...)
		cmd.Env = append(append(os.Environ(), "CGO_ENABLED=0"), strings.Fields(env)...)
		out, err := cmd.CombinedOutput()
		if err != nil {
			return nil, fmt.Errorf("%s: %w\n%s", env, err, out[:min(len(out), 2000)])
		}
		if !bytes.Contains(out, []byte("TEXT")) {
			return nil, fmt.Errorf("%s: no assembly listing", env)
		}
		for _, m := range instruction.FindAllStringSubmatch(string(out), -1) {
			if asked(m[1]) {
				continue
			}
			found = append(found, fmt.Sprintf("%s: %s (%s)", here(m[1]), m[2], env))
		}
	}
	slices.Sort(found)
	return slices.Compact(found), nil
}

// asked reports whether the line, file:number, calls math.FMA, which rounds once on
// every processor.
func asked(line string) bool {
	path, number, _ := strings.Cut(line, ":")
	n, err := strconv.Atoi(number)
	if err != nil {
		return false
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return false
	}
	lines := bytes.Split(text, []byte("\n"))
	return n <= len(lines) && bytes.Contains(lines[n-1], []byte("math.FMA("))
}

// here makes a file's path relative to the tree.
func here(path string) string {
	dir, err := os.Getwd()
	if err != nil {
		return path
	}
	return strings.TrimPrefix(path, dir+"/")
}
