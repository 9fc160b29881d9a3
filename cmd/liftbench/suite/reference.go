// The lines beside a score: what others come to on the same drives, and the noise
// floor.

package suite

import (
	"context"
	_ "embed"
	"encoding/json"
	"fmt"
	"io"
	"math"

	"liftbench/cmd/liftbench/settings"
)

// referenceNames are the lines in the order in which they are told.
var referenceNames = []string{"no lead", "fixed lead", "flow-unaware", "ours"}

// floorName is the line of the noise floor.
const floorName = "receiver's noise floor"

//go:embed reference.json
var referenceFile []byte

// References returns for each line the score of each class, as they were computed when the
// suite was made: the same for everybody. A test computes them anew.
func References() (map[string]map[string]Score, error) {
	var out map[string]map[string]Score
	if err := json.Unmarshal(referenceFile, &out); err != nil {
		return nil, fmt.Errorf("the suite's references: %w", err)
	}
	return out, nil
}

// referenceChanges make of our controller the others.
var referenceChanges = map[string]func(*settings.Setup){
	"no lead": func(u *settings.Setup) { fixLeads(u, 0, 0) },
	// What one section of the first machine takes alone, to 50 ms, on all machines.
	"fixed lead": func(u *settings.Setup) { fixLeads(u, 150, 750) },
	// What one section of each machine takes alone.
	"flow-unaware": func(u *settings.Setup) { u.Machine.Controller.FlowAware = false },
	"ours":         nil,
}

func fixLeads(u *settings.Setup, liftMs, dropMs float64) {
	c := &u.Machine.Controller
	c.FlowAware, c.LiftLead, c.DropLead = false, settings.LeadTime{Ms: liftMs}, settings.LeadTime{Ms: dropMs}
}

// computeReferences runs the suite for each line but ours, whose results are given.
func computeReferences(ctx context.Context, ours []Result) (map[string]map[string]Score, error) {
	drives, err := Drives("")
	if err != nil {
		return nil, err
	}
	out := map[string]map[string]Score{}
	for _, name := range referenceNames {
		list := ours
		if change := referenceChanges[name]; change != nil {
			if list, err = (&Runner{Change: change}).Run(ctx, drives, io.Discard); err != nil {
				return nil, err
			}
		}
		scores := map[string]Score{}
		for _, g := range groups(list, nil, 0) {
			scores[g.name] = g.score
		}
		out[name] = scores
	}
	out[floorName], err = floors(drives, ours)
	return out, err
}

// floors returns the noise floor of each class: so far from the true place would 95 %
// of the lifts and drops in results be, along the way, if each drive had its floor.
func floors(drives []Drive, results []Result) (map[string]Score, error) {
	type part struct{ sigmaM, moves float64 }
	classes := map[string][]part{}
	for i := range drives {
		u, err := drives[i].Load(0)
		if err != nil {
			return nil, err
		}
		p := u.Scenario.Receiver.Params(1)
		f := Floor(&p, passS)
		for _, class := range []string{drives[i].Class, "all"} {
			classes[class] = append(classes[class], part{f, float64(len(results[i].PlaceMm))})
		}
	}
	out := map[string]Score{}
	for class, parts := range classes {
		// The share within x grows with x: halving finds the one of 95 %.
		low, high := 0.0, 10.0
		for range 40 {
			x, within, all := (low+high)/2, 0.0, 0.0
			for _, p := range parts {
				all += p.moves
				if p.sigmaM == 0 {
					within += p.moves
				} else {
					within += p.moves * math.Erf(x/p.sigmaM/math.Sqrt2)
				}
			}
			if within < 0.95*all {
				low = x
			} else {
				high = x
			}
		}
		out[class] = Score{FloorMm: int(math.Round(1000 * low))}
	}
	return out, nil
}
