// The references are those that the drives give now.

package suite

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"io"
	"os"
	"runtime"
	"sync"
	"testing"

	"liftbench/sim/campaign"
)

var update = flag.Bool("update", false, "rewrite reference.json")

func TestReferences(t *testing.T) {
	if campaign.Times(0, 1, 1) == 0 && !*update {
		t.Skip("LIFTBENCH_CAMPAIGN=ci runs it: the whole suite four times")
	}
	list, err := ours()
	if err != nil {
		t.Fatal(err)
	}
	scores, err := computeReferences(context.Background(), list)
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.MarshalIndent(scores, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	text = append(text, '\n')
	if *update {
		if err := os.WriteFile("reference.json", text, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if !bytes.Equal(text, referenceFile) {
		t.Error("reference.json is of other drives or of another controller; go test ./cmd/liftbench/suite -run References -update writes it")
	}
	for class, ours := range scores["ours"] {
		if none := scores["no lead"][class]; ours.Share() <= none.Share() || ours.LostM2PerHa >= none.LostM2PerHa {
			t.Errorf("%s: ours %.3f within, %.1f m²/ha lost; without a lead %.3f, %.1f", class, ours.Share(), ours.LostM2PerHa, none.Share(), none.LostM2PerHa)
		}
		// In a class of few crossings no better than chance can tell; in all together better.
		if fixed := scores["fixed lead"][class]; ours.High <= fixed.Share() || class == "all" && ours.Share() <= fixed.Share() {
			t.Errorf("%s: ours %.3f within, up to %.3f by chance; with a fixed lead %.3f", class, ours.Share(), ours.High, fixed.Share())
		}
		if floor := scores[floorName][class]; ours.P95Mm < floor.FloorMm {
			t.Errorf("%s: ours within %d mm, below the noise floor of %d mm", class, ours.P95Mm, floor.FloorMm)
		}
	}
}

// ours are the results of our controller on all drives, run once for all tests.
var ours = sync.OnceValues(func() ([]Result, error) {
	drives, err := Drives("")
	if err != nil {
		return nil, err
	}
	return (&Runner{}).Run(context.Background(), drives, io.Discard)
})

// The same suite gives the same results, however many drives go on at once, and
// every drive of ours keeps its limits.
func TestSuiteRepeats(t *testing.T) {
	drives, err := Drives("")
	if err != nil {
		t.Fatal(err)
	}
	var once []Result
	if step := campaign.Times(4, 1, 1); step == 1 {
		once, err = ours()
	} else {
		for i := range len(drives) / step {
			drives[i] = drives[step*i]
		}
		drives = drives[:len(drives)/step]
		once, err = (&Runner{}).Run(context.Background(), drives, io.Discard)
	}
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range once {
		if r.Failed != "" || len(r.Exceeded) > 0 || len(r.PlaceMm) < 8 {
			t.Errorf("%s: %s %v, %d moves", r.Name, r.Failed, r.Exceeded, len(r.PlaceMm))
		}
	}
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(5))
	again, err := (&Runner{}).Run(context.Background(), drives, io.Discard)
	if err != nil {
		t.Fatal(err)
	}
	var texts [2]bytes.Buffer
	for i, list := range [][]Result{once, again} {
		if err := WriteResults(list, &texts[i]); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(texts[0].Bytes(), texts[1].Bytes()) {
		t.Error("two runs differ")
	}
	if n := texts[0].Len(); n > 200_000 {
		t.Errorf("the results take %d bytes; expected 200 kB at most", n)
	}
}
