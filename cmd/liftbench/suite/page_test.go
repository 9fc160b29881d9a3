// What is drawn of two runs over each other.

package suite

import (
	"bytes"
	"context"
	"encoding/xml"
	"io"
	"math"
	"slices"
	"strings"
	"testing"

	"liftbench/cmd/liftbench/settings"
)

// A controller that drops 20 ms late beside the baseline: every crossing is paired with
// itself, lifts are alike, drops differ by speed times 20 ms.
func TestPage(t *testing.T) {
	drives, err := Drives("")
	if err != nil {
		t.Fatal(err)
	}
	d, err := find(drives, "everyday/trapeze")
	if err != nil {
		t.Fatal(err)
	}
	ran := func(dropTrimMs float64) *Result {
		list, err := (&Runner{Change: func(u *settings.Setup) { u.Machine.Controller.DropTrimMs += dropTrimMs }}).Run(context.Background(), []Drive{*d}, io.Discard)
		if err != nil {
			t.Fatal(err)
		}
		return &list[0]
	}
	old, now := ran(0), ran(-20)
	if !now.paired(old) || now.paired(nil) {
		t.Fatal("the same chances are not paired, or nothing is")
	}
	u, err := d.Load(0)
	if err != nil {
		t.Fatal(err)
	}
	moved, alike := 0, 0
	list := twins(now, old)
	for _, c := range list {
		for i := range c {
			switch by := 100 * (c[i].NowM - c[i].BeforeM); {
			case by == 0:
				alike++
			case math.Abs(by-4.4) < 1.5: // 8 km/h, within what drivers and borders do
				moved++
			}
			if !u.Field.Bound().Pad(0.5).Contains(c[i].At) {
				t.Errorf("a move at %v, outside the field", c[i].At)
			}
		}
	}
	if n := len(now.PlaceMm); moved < n*4/10 || alike < n*4/10 || moved+alike < n*95/100 {
		t.Errorf("of %d moves %d are later by 20 ms and %d alike; want nearly half each", n, moved, alike)
	}
	if order := byDifference(list); len(order) != len(list) || now.Crossings[order[0]] < 6 {
		t.Errorf("the crossing that differs most is %d, of %d moves; want one of all sections", order[0], now.Crossings[order[0]])
	}
	c, _ := Compare([]Result{*now}, map[string]*Result{old.Name: old}, 1, 0)
	var b bytes.Buffer
	if err := WritePage(&b, now, old, u.Field, &c); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Beside the baseline: worse", "Around crossing ", "farther off than the baseline", "<td>baseline</td>"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("no %q", want)
		}
	}
	for _, svg := range strings.SplitAfter(b.String(), "</svg>")[:3] {
		x := xml.NewDecoder(strings.NewReader(svg[strings.Index(svg, "<svg"):]))
		for {
			if _, err := x.Token(); err == io.EOF {
				break
			} else if err != nil {
				t.Fatal(err)
			}
		}
	}
}

// Moves are kept from the left, whatever the last digits of their instants are.
func TestFromTheLeft(t *testing.T) {
	drives, err := Drives("")
	if err != nil {
		t.Fatal(err)
	}
	o, _, _, err := (&Runner{}).drive(context.Background(), &drives[len(drives)-1], "")
	if err != nil {
		t.Fatal(err)
	}
	var r Result
	r.Judge(o)
	for i := range o.Score.Events {
		o.Score.Events[i].IdealNs += int64(7*i) % 5
	}
	var again Result
	again.Judge(o)
	if len(r.PlaceMm) < 8 || !slices.Equal(r.PlaceMm, again.PlaceMm) || !slices.Equal(r.Crossings, again.Crossings) {
		t.Errorf("%v in %v; a few nanoseconds later %v in %v", r.PlaceMm, r.Crossings, again.PlaceMm, again.Crossings)
	}
}
