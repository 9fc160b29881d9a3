// A day that is drawn here, without the bench's own drives: two headland rounds and
// passes of an invented field, lifted and dropped late by a known time.

package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"liftbench/nmea"
)

// A rectangle, its first side at 65° from north, worked with the machine of the bad day:
// 6 m wide, its bar 2.2 m behind the rear axle, the antenna 0.9 m before it.
const (
	dayLongM, dayWideM = 220.0, 132.0
	dayWidthM          = 6.0
	dayBarM, dayMastM  = -2.2, 0.9
	dayLateS           = 0.30
	dayTurnM           = 3.0 // radius
)

// handDay is such a day while it is being driven.
type handDay struct {
	rng      *rand.Rand
	log      bytes.Buffer
	states   bytes.Buffer
	seconds  float64
	x, y, h  float64 // of the rear axle, along the first side and to its right; heading, to the right of it
	mps      float64
	on       bool
	sections int
	moves    int // lifts and drops of the bar
	next     float64
}

func (d *handDay) geodetic(x, y float64) (lat, lon float64) {
	const lat0, lon0, turn = 51.23, 10.07, 65 * math.Pi / 180
	e, n := x*math.Sin(turn)+y*math.Cos(turn), x*math.Cos(turn)-y*math.Sin(turn)
	// Radii of curvature of WGS 84 there.
	sin := math.Sin(lat0 * math.Pi / 180)
	w := math.Sqrt(1 - 0.00669437999014*sin*sin)
	return lat0 + n/(6378137*(1-0.00669437999014)/(w*w*w))*180/math.Pi, lon0 + e/(6378137/w*math.Cos(lat0*math.Pi/180))*180/math.Pi
}

// step drives on by some centimetres, turning by dh radians to the right.
func (d *handDay) step(m, dh float64) {
	const rateHz = 5
	d.h += dh / 2
	d.x, d.y = d.x+m*math.Cos(d.h), d.y+m*math.Sin(d.h)
	d.h += dh / 2
	for d.seconds += m / d.mps; d.next <= d.seconds; d.next += 1.0 / rateHz {
		back := (d.seconds - d.next) * d.mps
		f := nmea.EmptyFix()
		f.TimeNs = d.at(d.next).UnixNano()
		f.LatDeg, f.LonDeg = d.geodetic(d.x+(dayMastM-back)*math.Cos(d.h)+0.01*d.rng.NormFloat64(), d.y+(dayMastM-back)*math.Sin(d.h)+0.01*d.rng.NormFloat64())
		// The antenna moves as the mast in front of the axle does: aside too, in a turn.
		aside := dh / m * d.mps * dayMastM
		f.Quality, f.Dated, f.SpeedMps = nmea.RTKFixed, true, math.Hypot(d.mps, aside)
		f.CourseDeg = math.Mod(65+(d.h+math.Atan2(aside, d.mps))*180/math.Pi+720, 360)
		d.log.Write(nmea.AppendGGADigits(nil, &f, 7))
		d.log.Write(nmea.AppendRMCDigits(nil, &f, 7))
	}
}

func (d *handDay) at(seconds float64) time.Time {
	return time.Date(2026, 5, 19, 7, 0, 0, 0, time.UTC).Add(time.Duration(math.Round(seconds*1e3)) * time.Millisecond)
}

func (d *handDay) straight(m float64) {
	for range int(math.Round(m / 0.02)) {
		d.step(0.02, 0)
	}
}

func (d *handDay) turn(rad float64) {
	n := int(math.Abs(rad) * dayTurnM / 0.02)
	for range n {
		d.step(math.Abs(rad)*dayTurnM/float64(n), rad/float64(n))
	}
}

// move lifts or drops the bar, late.
func (d *handDay) move(on bool, lateS float64) {
	if d.on == on {
		return
	}
	d.on = on
	d.moves++
	value := 0
	if on {
		value = 1
	}
	for s := range d.sections {
		fmt.Fprintf(&d.states, "%s,%d,%d\n", d.at(d.seconds+lateS).Format("2006-01-02T15:04:05.000Z"), s+1, value)
	}
}

// day drives it all: rounds clockwise along the first side first, then
// passes along the first side. The states are of so many sections.
func drawDay(sections int) *handDay {
	d := &handDay{rng: rand.New(rand.NewPCG(7, 16)), sections: sections, mps: 2}
	d.states.WriteString("time,section,actual\n")
	d.x, d.y = 40, dayWidthM/2
	d.straight(20)
	for k := range 2 {
		in := (float64(k) + 0.5) * dayWidthM
		d.move(true, 0)
		length := []float64{dayLongM - 2*in, dayWideM - 2*in}
		d.straight(dayLongM - in - dayTurnM - d.x)
		d.turn(math.Pi / 2)
		for _, m := range []float64{length[1], length[0], length[1]} {
			d.straight(m - 2*dayTurnM)
			d.turn(math.Pi / 2)
		}
		d.straight(62 - d.x)
		d.move(false, 0)
		d.straight(2)
		if k == 0 { // over to the next round, a width to the right
			d.turn(math.Pi / 2)
			d.turn(-math.Pi / 2)
			d.straight(2)
		}
	}
	const head = 2 * dayWidthM
	for k := range int((dayWideM - 2*head) / dayWidthM) {
		y := head + (float64(k)+0.5)*dayWidthM
		d.mps = []float64{1.6, 2.8}[k/2%2]
		if k%2 == 0 {
			d.x, d.y, d.h = 0, y, 0
		} else {
			d.x, d.y, d.h = dayLongM, y, math.Pi
		}
		d.seconds += 8 // for the turn over the headland, without a position
		d.next = d.seconds
		d.straight(head - dayBarM) // the bar comes to the border of the body
		d.move(true, dayLateS)
		d.straight(dayLongM - 2*head)
		d.move(false, dayLateS)
		d.straight(head + dayBarM)
	}
	return d
}

// zones, and what is done with them, on a day that is known: where the body ends, the
// rows' direction, and how late the bar was.
func TestZonesOfADrawnDay(t *testing.T) {
	dir := unpackedDay(t)
	at := func(name string) string { return filepath.Join(dir, name) }
	d := drawDay(6)
	keep(t, at("drawn.nmea"), d.log.Bytes())
	keep(t, at("drawn.csv"), d.states.Bytes())
	run := func(args ...string) string {
		t.Helper()
		status, stdout, stderr := command("", args...)
		if status != 0 {
			t.Fatalf("%s: status %d: %s", strings.Join(args, " "), status, stderr)
		}
		return strings.Join(strings.Fields(stdout), " ")
	}
	text := run("zones", "--machine", at("machine.yaml"), "--states", at("drawn.csv"), "--out", at("zones"), at("drawn.nmea"))
	t.Log(text)
	for _, want := range []string{"straight rows at 65.0°", "18 passes", "2 rounds were driven around the field, so it is about 12.0 m wide", "from the innermost round, is sure to ±"} {
		if !strings.Contains(text, want) {
			t.Errorf("zones does not say %q", want)
		}
	}
	var found struct {
		Features []struct {
			Properties map[string]any
			Geometry   struct{ Coordinates [][][][2]float64 }
		}
	}
	data, err := os.ReadFile(at("zones/zones.geojson"))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, &found); err != nil {
		t.Fatal(err)
	}
	corners := 0
	for _, f := range found.Features {
		if f.Properties["zone"] != "body" {
			continue
		}
		for _, x := range []float64{12, dayLongM - 12} {
			for _, y := range []float64{12, dayWideM - 12} {
				lat, lon := d.geodetic(x, y)
				for _, c := range f.Geometry.Coordinates[0][0] {
					if math.Hypot((c[1]-lat)*111_200, (c[0]-lon)*111_200*math.Cos(lat*math.Pi/180)) < 0.3 {
						corners++
						break
					}
				}
			}
		}
	}
	if corners != 4 {
		t.Errorf("%d of the body's 4 corners lie within 0.3 m of where they are", corners)
	}
	zonesFile := at("zones/zones.geojson")
	run("run", "--machine", at("machine.yaml"), "--field", zonesFile, "--states", at("drawn.csv"), at("drawn.nmea"))
	run("check", "--machine", at("machine.yaml"), "--field", zonesFile)
	run("diagnose", "--machine", at("machine.yaml"), "--field", zonesFile, "--states", at("drawn.csv"), at("drawn.nmea"))
	text = run("diagnose", "--machine", at("machine.yaml"), "--states", at("drawn.csv"), "--out", at("answer"), at("drawn.nmea"))
	t.Log(text)
	if !strings.Contains(text, "at a border 108, 0 missed, 0 extra 108, 0 missed, 0 extra") {
		t.Error("diagnose counts other lifts and drops than 18 of each of 6 sections")
	}
	for _, want := range []string{"found from the track", "Strongest first: latency +", "4 on the headland rounds are left out"} {
		if !strings.Contains(text, want) {
			t.Errorf("diagnose does not say %q", want)
		}
	}
}

// One state for the whole machine counts once, not once a section.
func TestOneStateCountsOnce(t *testing.T) {
	dir := unpackedDay(t)
	at := func(name string) string { return filepath.Join(dir, name) }
	d := drawDay(1)
	keep(t, at("drawn.nmea"), d.log.Bytes())
	keep(t, at("drawn.csv"), d.states.Bytes())
	status, stdout, stderr := command("", "diagnose", "--machine", at("machine.yaml"), "--states", at("drawn.csv"), "--out", at("answer"), at("drawn.nmea"))
	if status != 0 {
		t.Fatal(stderr)
	}
	text := strings.Join(strings.Fields(stdout), " ")
	for _, want := range []string{"one for the whole machine", "1 section, 6 m", "at a border 18, 0 missed, 0 extra 18, 0 missed, 0 extra", "4 on the headland rounds are left out"} {
		if !strings.Contains(text, want) {
			t.Errorf("diagnose does not say %q:\n%s", want, stdout)
		}
	}
	page, err := os.ReadFile(at("answer/diagnosis.html"))
	if err != nil {
		t.Fatal(err)
	}
	for _, not := range []string{"error by section", "of section 1"} {
		if strings.Contains(string(page), not) {
			t.Errorf("the page says %q of a machine of one section", not)
		}
	}
}

// The built-in bad day with its boundary alone: lifts and drops tell the borders, and
// the two directions of driving tell that both are late, as with the zones known.
func TestBadDayWithItsBoundaryAlone(t *testing.T) {
	dir := unpackedDay(t)
	at := func(name string) string { return filepath.Join(dir, name) }
	var all struct {
		Type     string           `json:"type"`
		Features []map[string]any `json:"features"`
	}
	data, err := os.ReadFile(at("field.geojson"))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, &all); err != nil {
		t.Fatal(err)
	}
	all.Features = all.Features[:1]
	if data, err = json.Marshal(all); err != nil {
		t.Fatal(err)
	}
	keep(t, at("boundary.geojson"), data)
	status, stdout, stderr := command("", "diagnose", "--machine", at("machine.yaml"), "--field", at("boundary.geojson"), "--states", at("day.states.csv"), "--out", at("answer"), at("day.nmea"))
	if status != 0 {
		t.Fatal(stderr)
	}
	text := strings.Join(strings.Fields(stdout), " ")
	if !strings.Contains(text, "Lifts lie 0.6 ±") || !strings.Contains(text, "An error common to them is then invisible") {
		t.Errorf("diagnose does not say what lifts and drops alone tell:\n%s", stdout)
	}
	var answer struct {
		Causes []struct {
			Cause   string
			Section int
			Size    float64
			CI95    [2]float64
		}
	}
	if data, err = os.ReadFile(at("answer/diagnosis.json")); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, &answer); err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	for _, c := range answer.Causes {
		seen[c.Cause] = true
		switch c.Cause {
		case "geometry": // the bar is 30 cm farther back than the controller has it
			if c.CI95[0] > 0.30 || c.CI95[1] < 0.30 || math.Abs(c.Size-0.30) > 0.05 {
				t.Errorf("geometry %+.2f m %.2f; want 0.30", c.Size, c.CI95)
			}
		case "slow section":
			if c.Section != 4 || math.Abs(c.Size-0.18) > 0.01 {
				t.Errorf("slow section %d %+.3f s; want section 4, 0.180", c.Section, c.Size)
			}
		case "worked by hand": // the lifts over the hollow, of which the track tells nothing
		default:
			t.Errorf("%s is named, which is none of the day's faults", c.Cause)
		}
	}
	if !seen["geometry"] || !seen["slow section"] {
		t.Errorf("causes %v; want geometry and slow section", seen)
	}
}
