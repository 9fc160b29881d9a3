//go:build unix

package loop

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"liftbench/replay/live"
)

// A process that is killed (kill -9) while it writes its state leaves a whole one, and
// so it does of worked ground, the largest there can be: 1.3 MB, each byte of which says
// which writing it is of.
func TestStateKilled(t *testing.T) {
	const variable, workedBytes = "WRITE_STATE_UNTIL_KILLED", 1300_000
	if path := os.Getenv(variable); path != "" {
		fmt.Println("begun")
		for n := int64(1); ; n++ {
			state := live.State{Setup: "x", HostNs: n * 1e9, NowNs: n * 1e9, FixNs: n * 1e9, InWork: []int{int(n % 12)}, Controller: bytes.Repeat([]byte{byte(n)}, 4000)}
			text, err := state.AppendJSON(nil)
			if err = errors.Join(err, replace(path, text), replace(path+workedEnd, bytes.Repeat([]byte{byte(n)}, workedBytes))); err != nil {
				fmt.Println(err)
				os.Exit(1)
			}
		}
	}
	path := filepath.Join(t.TempDir(), "state.json")
	rng := rand.New(rand.NewPCG(15, 9))
	newest := int64(0)
	whole := func(b []byte) bool { return len(b) == bytes.Count(b, b[:1]) }
	kills := 40
	if os.Getenv("LIFTBENCH_CAMPAIGN") == "full" {
		kills = 271
	}
	seen := 0
	for range kills {
		cmd := exec.Command(os.Args[0], "-test.run=^TestStateKilled$")
		cmd.Env = append(os.Environ(), variable+"="+path)
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		if line, _ := bufio.NewReader(out).ReadString('\n'); line != "begun\n" {
			t.Fatalf("it says %q", line)
		}
		time.Sleep(time.Duration(rng.IntN(40_000)) * time.Microsecond)
		if err := cmd.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		_ = cmd.Wait() // killed, as was asked for
		text, err := readState(path)
		if errors.Is(err, fs.ErrNotExist) {
			continue // killed before the first
		}
		left, parseErr := live.ParseState(text)
		if err = errors.Join(err, parseErr); err != nil {
			t.Fatalf("%d bytes: %v", len(text), err)
		}
		if n := left.HostNs / 1e9; len(left.Controller) != 4000 || !whole(left.Controller) || left.Controller[0] != byte(n) || left.InWork[0] != int(n%12) {
			t.Errorf("the state is of several writings")
		}
		newest = max(newest, left.HostNs/1e9)
		worked, err := readState(path + workedEnd)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil || len(worked) != workedBytes || !whole(worked) {
			t.Errorf("worked ground is torn: %d bytes, %v", len(worked), err)
		}
		seen++
	}
	t.Logf("killed %d times, %d with both files there, the highest writing %d", kills, seen, newest)
	if seen < kills/2 {
		t.Errorf("both files were there %d times; want most", seen)
	}
}
