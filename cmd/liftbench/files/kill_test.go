//go:build unix

package files

import (
	"bufio"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"liftbench/sim/campaign"
)

// killedFiles are the names of the set that is written until the process is killed.
var killedFiles = []string{"events.csv", "ground.geojson", "report.html", "summary.json"}

// A process that is killed (kill -9) while it writes sets of files leaves no torn file,
// and no two files of different sets. It is killed 40 times, with
// LIFTBENCH_CAMPAIGN=full 271 times.
func TestKilledWhileWriting(t *testing.T) {
	const variable = "WRITE_UNTIL_KILLED"
	if dir := os.Getenv(variable); dir != "" {
		fmt.Println("begun")
		for n := 0; ; n++ {
			var set []File
			for _, name := range killedFiles {
				set = append(set, File{Name: name, Write: func(w io.Writer) error {
					for line := range 2000 {
						if _, err := fmt.Fprintf(w, "%s of set %d, line %d\n", name, n, line); err != nil {
							return err
						}
					}
					return nil
				}})
			}
			if err := WriteDir(dir, set); err != nil {
				fmt.Println(err)
				os.Exit(1)
			}
		}
	}
	kills := campaign.Times(40, 40, 271)
	dir := t.TempDir()
	rng := rand.New(rand.NewPCG(15, 8))
	together := [5]int{} // how often so many of the files were there
	for range kills {
		cmd := exec.Command(os.Args[0], "-test.run=^TestKilledWhileWriting$")
		cmd.Env = append(os.Environ(), variable+"="+dir)
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
		sets := map[string]bool{}
		there := 0
		for _, name := range killedFiles {
			data, err := os.ReadFile(filepath.Join(dir, name))
			if os.IsNotExist(err) {
				continue
			}
			if err != nil {
				t.Fatal(err)
			}
			there++
			_, set, _ := strings.Cut(string(data), " of set ")
			set, _, _ = strings.Cut(set, ",")
			want := name + " of set " + set + ", line 1999\n"
			if !strings.HasSuffix(string(data), want) || strings.Count(string(data), " of set "+set+", ") != 2000 {
				t.Errorf("%s is torn: %d bytes, the last %.60q", name, len(data), data[max(0, len(data)-60):])
			}
			sets[set] = true
		}
		if len(sets) > 1 {
			t.Errorf("files of sets %v beside each other", sets)
		}
		together[there]++
	}
	t.Logf("killed %d times; none, one, … four files were there %v times", kills, together)
	if together[4] == 0 {
		t.Error("no set was ever whole")
	}
}
