// Comparisons: how often the same is called worse, and how often worse is.

package suite

import (
	"bytes"
	"context"
	"io"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"liftbench/cmd/liftbench/settings"
	"liftbench/sim/campaign"
)

// drawn makes a result whose crossings share an error, as those of a receiver do, and
// whose sections have one each, as valves do.
func drawn(r *rand.Rand, name, chances string, valveMm float64) Result {
	x := Result{Name: name, Class: "everyday", Chances: chances}
	var own [6]float64
	for i := range own {
		own[i] = valveMm * r.NormFloat64()
	}
	for range 40 {
		shared := 20 * r.NormFloat64()
		for i := range own {
			x.PlaceMm, x.Sections = append(x.PlaceMm, int(math.Round(shared+own[i]+5*r.NormFloat64()))), append(x.Sections, i+1)
		}
		x.Crossings = append(x.Crossings, 6)
	}
	return x
}

func TestCompareIsHonest(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	const looks = 6
	times := campaign.Times(1000, 3000, 20000)
	for _, valveMm := range []float64{0, 15, 60} {
		worse := 0
		for range times {
			var now []Result
			before := map[string]*Result{}
			for _, name := range []string{"everyday/x", "everyday/y"} {
				a, b := drawn(r, name, "a", valveMm), drawn(r, name, "b", valveMm)
				now, before[name] = append(now, a), &b
			}
			c, n := Compare(now, before, looks, 0)
			if n != 2 || c.Paired {
				t.Fatalf("%d drives, paired %v", n, c.Paired)
			}
			if c.Verdict == Worse {
				worse++
			}
		}
		// One look in six at 5 %: 0.83 %, and four standard errors.
		share, want := float64(worse)/float64(times), 0.05/looks
		t.Logf("valves that differ by %g mm: the same called worse in %.2f %% of %d", valveMm, 100*share, times)
		if share > want+4*math.Sqrt(want/float64(times)) {
			t.Errorf("%.2f %%; expected %.2f %%", 100*share, 100*want)
		}
	}
	a := drawn(r, "everyday/x", "a", 0)
	worseBy := a
	worseBy.PlaceMm = append([]int{}, a.PlaceMm...)
	for i := range worseBy.PlaceMm {
		worseBy.PlaceMm[i] += map[bool]int{true: 3, false: -3}[worseBy.PlaceMm[i] > 0]
	}
	before := map[string]*Result{a.Name: &a}
	for _, tc := range []struct {
		now     Result
		allowMm float64
		want    Verdict
	}{{a, 0, Same}, {worseBy, 0, Worse}, {worseBy, 4, Noise}, {Result{Name: a.Name, Failed: "x"}, 0, Worse}} {
		if c, _ := Compare([]Result{tc.now}, before, 1, tc.allowMm); c.Verdict != tc.want {
			t.Errorf("%v; want %v: %+v", c.Verdict, tc.want, c)
		}
	}
	if c, _ := Compare([]Result{a}, map[string]*Result{a.Name: &worseBy}, 1, 0); c.Verdict != Better || !c.Paired || math.Abs(c.MeanMm+3) > 0.1 {
		t.Errorf("%+v; want better by 3 mm", c)
	}
	if _, n := Compare([]Result{a}, map[string]*Result{}, 1, 0); n != 0 {
		t.Error("compared with nothing")
	}
}

// The whole suite with other chances, each result in turn as the baseline of all others: our
// controller is called worse once in twenty times at most, and one whose lead is off by 20
// ms nearly always, with other chances and with the same. One baseline alone would tell
// little: a lucky one makes all others look worse.
func TestFalseAlarmsAndPower(t *testing.T) {
	times := campaign.Times(0, 1, 50)
	if times == 0 {
		t.Skip("LIFTBENCH_CAMPAIGN=ci runs it: the whole suite several times")
	}
	drives, err := Drives("")
	if err != nil {
		t.Fatal(err)
	}
	ran := func(seed uint64, change func(*settings.Setup)) []Result {
		list, err := (&Runner{Seed: seed, Change: change}).Run(context.Background(), drives, io.Discard)
		if err != nil {
			t.Fatal(err)
		}
		return list
	}
	late := []func(*settings.Setup){
		func(u *settings.Setup) { u.Machine.Controller.LiftTrimMs += 20 },
		func(u *settings.Setup) { u.Machine.Controller.LiftTrimMs -= 20 },
		func(u *settings.Setup) { u.Machine.Controller.DropTrimMs += 20 },
		func(u *settings.Setup) { u.Machine.Controller.DropTrimMs -= 20 },
	}
	first, err := ours()
	if err != nil {
		t.Fatal(err)
	}
	whole, off := [][]Result{first}, [][]Result{nil}
	for i := range times {
		seed := uint64(1000 * (i + 1))
		whole, off = append(whole, ran(seed, nil)), append(off, ran(seed, late[i%len(late)]))
		t.Logf("%d of %d seeds", i+1, times)
	}
	alarms, noticed, alarmsOfFirst, noticedOfFirst, pairs, pairsOff := 0, 0, 0, 0, 0, 0
	for b := range whole {
		before := map[string]*Result{}
		for i := range whole[b] {
			before[whole[b][i].Name] = &whole[b][i]
		}
		for i := range whole {
			if i == b {
				continue
			}
			pairs++
			if w := worse(groups(whole[i], before, 0)); len(w) > 0 {
				if alarms++; b == 0 {
					alarmsOfFirst++
					t.Logf("seed %d beside the first: %v", 1000*i, w)
				}
			}
			if i == 0 {
				continue
			}
			pairsOff++
			if w := worse(groups(off[i], before, 0)); len(w) > 0 {
				if noticed++; b == 0 {
					noticedOfFirst++
				}
			}
		}
	}
	t.Logf("beside the first baseline %d false alarms of %d, 20 ms noticed %d times; beside every baseline %d of %d (%.1f %%), and %d of %d",
		alarmsOfFirst, times, noticedOfFirst, alarms, pairs, 100*float64(alarms)/float64(pairs), noticed, pairsOff)
	if alarmsOfFirst > max(1, times/20) || alarms > max(1, pairs/20) {
		t.Errorf("too many false alarms; expected 5 %% at most")
	}
	if noticedOfFirst < times*95/100 || noticed < pairsOff*95/100 {
		t.Errorf("20 ms are noticed too rarely; expected 95 %% at least")
	}
	same := map[string]*Result{}
	for i := range whole[0] {
		same[whole[0][i].Name] = &whole[0][i]
	}
	for i := range min(times, len(late)) {
		if len(worse(groups(ran(0, late[i]), same, 0))) == 0 {
			t.Errorf("with the same chances change %d is not noticed", i)
		}
	}
}

func TestReadResultsRefuses(t *testing.T) {
	for text, want := range map[string]string{
		"":                                     "EOF",
		`{"format":"liftbench suite 0"}`:       `format "liftbench suite 0"`,
		`{"format":"liftbench suite 1","x":1}`: "unknown field",
		`{"format":"liftbench suite 1","drives":{"a":null}}`:                                                       "a: nothing",
		`{"format":"liftbench suite 1","drives":{"a":{"place_mm":[1,2],"crossings":[1]}}}`:                         "a: 2 moves in crossings of 1",
		`{"format":"liftbench suite 1","drives":{"a":{"place_mm":[1],"crossings":[1]}}}`:                           "by 0 sections",
		`{"format":"liftbench suite 1","drives":{"a":{"place_mm":[1],"sections":[300],"crossings":[1]}}}`:          "section 300",
		`{"format":"liftbench suite 1","drives":{"a":{"place_mm":[1],"crossings":[-1,2]}}}`:                        "a crossing of -1",
		`{"format":"liftbench suite 1","drives":{"a":{"place_mm":[9000],"sections":[1],"crossings":[1]}}}`:         "9000 mm",
		`{"format":"liftbench suite 1","drives":{"a":{"place_mm":[1],"sections":[1],"crossings":[1],"extra":-1}}}`: "-1 extra",
	} {
		if _, err := parseResults("b.json", []byte(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v; want %q", text, err, want)
		}
	}
}

func FuzzParseResults(f *testing.F) {
	var b bytes.Buffer
	WriteResults(made(), &b)
	f.Add(b.Bytes())
	f.Add([]byte(`{"format":"liftbench suite 1","drives":{"a":{"place_mm":[1],"sections":[1],"crossings":[1]}}}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		list, err := parseResults("b.json", data)
		if err != nil {
			return
		}
		var now []Result
		for _, r := range list {
			now = append(now, *r)
		}
		if c, n := Compare(now, list, 1, 0); n > 0 && c.Verdict != Same {
			t.Fatalf("a result beside itself: %+v", c)
		}
		Total(now)
	})
}
