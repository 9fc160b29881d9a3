// A day written by a second hand: an NMEA stream of plain trigonometry and Sprintf, with
// its own checksum, beside the same day with faults in it. Outside the faults' windows
// the setpoints are those of the clean day; inside, what the fault asks for happens.

package sections_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"

	"liftbench/nmea/epoch"
	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/geodesy"
	"liftbench/sections/schedule"
)

const (
	otherHz      = 5
	otherMps     = 2.5
	otherLat     = 48.3
	otherLon     = 11.2
	straightM    = 180.0
	turnRadiusM  = 20.0
	otherLapM    = 2*straightM + 2*math.Pi*turnRadiusM
	otherFromM   = 40.0 // the zone's borders, along the first straight
	otherToM     = 140.0
	otherSpanned = 24 // setpoints of a clean lap: 6 sections, two zones' borders on two straights
)

// otherPlace is where the antenna is after wayM on an oval of two straights, north and
// south, and two half circles to the right; courseRad is from north, clockwise.
func otherPlace(wayM float64) (eastM, northM, courseRad float64) {
	half := straightM + math.Pi*turnRadiusM
	w := math.Mod(wayM, 2*half)
	back := w >= half
	if back {
		w -= half
	}
	if w < straightM {
		eastM, northM = 0, w
	} else {
		turned := (w - straightM) / turnRadiusM
		eastM, northM, courseRad = turnRadiusM-turnRadiusM*math.Cos(turned), straightM+turnRadiusM*math.Sin(turned), turned
	}
	if back {
		eastM, northM, courseRad = 2*turnRadiusM-eastM, straightM-northM, courseRad+math.Pi
	}
	return eastM, northM, courseRad
}

// otherDegrees are latitude and longitude of a place some hundred metres from the origin:
// by the radii of curvature of the ellipsoid with a = 6378137 m and 1/f = 298.257223563
// (WGS 84), along the meridian a(1 - e²)/(1 - e²·sin²φ)^(3/2), across a/√(1 - e²·sin²φ).
func otherDegrees(eastM, northM float64) (latDeg, lonDeg float64) {
	const a, e2 = 6378137.0, 2/298.257223563 - 1/(298.257223563*298.257223563)
	phi := otherLat * math.Pi / 180
	q := 1 - e2*math.Sin(phi)*math.Sin(phi)
	return otherLat + northM*180/math.Pi/(a*(1-e2)/math.Pow(q, 1.5)), otherLon + eastM*180/math.Pi/(a/math.Sqrt(q)*math.Cos(phi))
}

// otherSentence closes a sentence: NMEA's checksum is the exclusive or of the bytes
// between $ and *.
func otherSentence(body string) string {
	sum := byte(0)
	for i := range len(body) {
		sum ^= body[i]
	}
	return fmt.Sprintf("$%s*%02X\r\n", body, sum)
}

// otherEpoch is one instant's GGA and RMC.
func otherEpoch(at, dated time.Time, latDeg, lonDeg, courseRad float64) string {
	angle := func(deg float64, width int) string {
		whole := math.Floor(deg)
		return fmt.Sprintf("%0*d%011.8f", width, int(whole), (deg-whole)*60)
	}
	clock := at.Format("150405.00")
	lat, lon := angle(latDeg, 2)+",N", angle(lonDeg, 3)+",E"
	return otherSentence(fmt.Sprintf("GPGGA,%s,%s,%s,4,14,0.8,410.00,M,46.00,M,1.0,0001", clock, lat, lon)) +
		otherSentence(fmt.Sprintf("GPRMC,%s,A,%s,%s,%.4f,%.3f,%s,,,R", clock, lat, lon, otherMps*3600/1852, math.Mod(courseRad*180/math.Pi, 360), dated.Format("020106")))
}

// otherFault is what goes wrong in a lap.
type otherFault int

const (
	soundLap   otherFault = iota
	bitErrors             // one bit of a byte in a thousand, for 50 s that include both borders of a zone
	frozenFix             // the position stands still for 5 s while speed and course go on
	dayAhead              // one RMC has tomorrow's date
	yearsAhead            // one RMC has a date ten years ahead
	hourAhead             // one epoch is an hour ahead
	silence               // nothing for 6 s
	faultCount
)

// otherWindow is when a fault is at work, in seconds of the lap, and when the controller
// has what it needs again: fixes are believed, and the estimate has settled.
var otherWindow = map[otherFault][3]float64{
	bitErrors:  {10, 60, 60},
	frozenFix:  {30, 35, 47},
	dayAhead:   {14, 14, 14},
	yearsAhead: {30, 30, 30},
	hourAhead:  {55, 55, 55},
	silence:    {30, 36, 46},
}

// otherDay writes the day, lap by lap; without faults every lap is sound.
func otherDay(laps int, faults bool, write func(string)) (start time.Time) {
	start = time.Date(2031, 5, 14, 0, 0, 7, 0, time.UTC)
	rng := rand.New(rand.NewPCG(31, 5))
	lapS := otherLapM / otherMps
	epochs := int(float64(laps) * lapS * otherHz)
	for k := range epochs {
		s := float64(k) / otherHz
		at := start.Add(time.Duration(k) * time.Second / otherHz)
		lap := int(s / lapS)
		inLap := s - float64(lap)*lapS
		fault := soundLap
		if faults {
			fault = otherFaultOf(lap)
		}
		w := otherWindow[fault]
		inside := fault != soundLap && inLap >= w[0] && inLap < max(w[1], w[0]+1.0/otherHz)
		way := s * otherMps
		dated, written := at, at
		if inside {
			switch fault {
			case silence:
				continue
			case frozenFix:
				way = (float64(lap)*lapS + w[0]) * otherMps
			case dayAhead:
				dated = at.AddDate(0, 0, 1)
			case yearsAhead:
				dated = at.AddDate(10, 0, 0)
			case hourAhead:
				written = at.Add(time.Hour)
			}
		}
		e, n, _ := otherPlace(way)
		_, _, course := otherPlace(s * otherMps)
		lat, lon := otherDegrees(e, n)
		text := otherEpoch(written, dated, lat, lon, course)
		if inside && fault == bitErrors {
			b := []byte(text)
			for i := range b {
				if rng.IntN(1000) == 0 {
					b[i] ^= 1 << rng.IntN(8)
				}
			}
			text = string(b)
		}
		write(text)
	}
	return start
}

// otherFaultOf is the fault of a lap: every other lap has one, in turn.
func otherFaultOf(lap int) otherFault {
	if lap%2 == 0 {
		return soundLap
	}
	return 1 + otherFault(lap/2)%(faultCount-1)
}

// otherSetpoints runs a controller of six sections over a stream.
func otherSetpoints(t *testing.T, laps int, faults bool) (list []sections.Setpoint, start time.Time, counts epoch.ReaderCounts) {
	t.Helper()
	strip := func(eastM float64) orb.Polygon {
		return orb.Polygon{{{eastM - 15, otherFromM}, {eastM + 15, otherFromM}, {eastM + 15, otherToM}, {eastM - 15, otherToM}, {eastM - 15, otherFromM}}}
	}
	f, err := field.New(geodesy.NewPlane(otherLat, otherLon), nil, []field.Zone{{Name: "beet", Kind: field.Body, Polygons: orb.MultiPolygon{strip(0), strip(2 * turnRadiusM)}}})
	if err != nil {
		t.Fatal(err)
	}
	m := &sections.Machine{Mount: sections.RearRigid}
	for i := range 6 {
		m.Sections = append(m.Sections, sections.Section{XM: -2, YM: 1.5 * (float64(i) - 2.5), WidthM: 1.5})
	}
	set := sections.DefaultSettings()
	c, err := sections.New(m, f, set)
	if err != nil {
		t.Fatal(err)
	}
	when := schedule.New(&set)
	var text strings.Builder
	start = otherDay(laps, faults, func(s string) { text.WriteString(s) })
	rd := epoch.NewReader(strings.NewReader(text.String()))
	for rd.Next() {
		fix := rd.Fix()
		at := when.ArrivalNs(&fix)
		for now, ok := when.Next(at); ok; now, ok = when.Next(at) {
			list = c.Tick(now, list)
		}
		c.Fix(&fix)
		list = c.Tick(when.Take(at), list)
	}
	if err := rd.Err(); err != nil {
		t.Fatal(err)
	}
	return list, start, rd.Counts()
}

// TestOtherDay holds the controller to a day of 50 minutes, with LIFTBENCH_CAMPAIGN=full
// to one of 24 hours.
func TestOtherDay(t *testing.T) {
	lapS := otherLapM / otherMps
	laps := 14
	if os.Getenv("LIFTBENCH_CAMPAIGN") == "full" {
		laps = int(24 * 3600 / lapS)
	}
	clean, start, _ := otherSetpoints(t, laps, false)
	got, _, counts := otherSetpoints(t, laps, true)
	inLap := func(s *sections.Setpoint) (lap int, second float64) {
		at := float64(s.DueNs-start.UnixNano()) * 1e-9
		lap = int(at / lapS)
		return lap, at - float64(lap)*lapS
	}
	inWindow := func(s *sections.Setpoint) bool {
		lap, at := inLap(s)
		w, is := otherWindow[otherFaultOf(lap)]
		return is && at >= w[0] && at < w[2]
	}
	outside := func(list []sections.Setpoint) []sections.Setpoint {
		return slices.DeleteFunc(slices.Clone(list), func(s sections.Setpoint) bool {
			return inWindow(&s)
		})
	}
	if len(clean) < (laps-1)*otherSpanned {
		t.Fatalf("%d setpoints in %d laps without a fault; want %d a lap", len(clean), laps, otherSpanned)
	}
	a, b := outside(clean), outside(got)
	worstNs := int64(0)
	for i := range min(len(a), len(b)) {
		x, y := &a[i], &b[i]
		lap, at := inLap(x)
		if x.Section != y.Section || x.On != y.On || x.Reason != y.Reason {
			t.Fatalf("lap %d, after fault %d, at %.2f s: %+v; the clean day has %+v", lap, otherFaultOf(lap), at, *y, *x)
		}
		worstNs = max(worstNs, x.DueNs-y.DueNs, y.DueNs-x.DueNs)
	}
	if len(a) != len(b) || worstNs > 5e6 {
		t.Errorf("outside the windows %d setpoints, up to %.1f ms off; the clean day has %d", len(b), float64(worstNs)*1e-6, len(a))
	}

	// Inside, lap by lap.
	of := func(list []sections.Setpoint) [][]sections.Setpoint {
		out := make([][]sections.Setpoint, laps+1)
		for i := range list {
			if lap, _ := inLap(&list[i]); inWindow(&list[i]) {
				out[lap] = append(out[lap], list[i])
			}
		}
		return out
	}
	cleanOf, gotOf := of(clean), of(got)
	var seen [faultCount]int
	for lap := range laps {
		fault := otherFaultOf(lap)
		seen[fault]++
		w := otherWindow[fault]
		var lifts, drops int
		for i := range gotOf[lap] {
			s := &gotOf[lap][i]
			_, at := inLap(s)
			wanted := map[otherFault]sections.Reason{frozenFix: sections.FrozenFix, silence: sections.LostFix}[fault]
			switch {
			case fault == frozenFix || fault == silence:
				// In work when it begins, up for that reason, and down again after it. Up within
				// max_age and hold, 2.5 s. A position that stands still is told by two ways of 2 m
				// that contradict the speed, after up to 1.4 m of a way of which the rest was
				// sound, each up to an epoch longer; then it is held for 1 s, from the arrival on.
				limitS := 2.5
				if fault == frozenFix {
					limitS = (2*2+1.4)/otherMps + 3.0/otherHz + 1 + 0.1
				}
				if !s.On && s.Reason == wanted && at <= w[0]+limitS {
					lifts++
				} else if s.On && s.Reason == sections.AtBorder && at >= w[1] && lifts == 6 {
					drops++
				} else {
					t.Errorf("lap %d, fault %d at %.2f s: %+v", lap, fault, at, *s)
				}
			case s.Reason != sections.AtBorder:
				t.Errorf("lap %d, fault %d at %.2f s: %+v; want borders alone", lap, fault, at, *s)
			}
		}
		switch fault {
		case frozenFix, silence:
			if lifts != 6 || drops != 6 {
				t.Errorf("lap %d, fault %d: %d lifted by the fail-safe, %d dropped again; want 6, 6", lap, fault, lifts, drops)
			}
		default:
			c, g := cleanOf[lap], gotOf[lap]
			if len(c) != len(g) {
				t.Errorf("lap %d, fault %d: %d setpoints in its window; the clean day has %d", lap, fault, len(g), len(c))
				continue
			}
			for i := range c {
				if off := time.Duration(g[i].DueNs - c[i].DueNs).Abs(); c[i].Section != g[i].Section || c[i].On != g[i].On || off > 100*time.Millisecond {
					t.Errorf("lap %d, fault %d: %+v; the clean day has %+v", lap, fault, g[i], c[i])
				}
			}
		}
	}
	t.Logf("%d laps, %d of each kind of fault or so: outside the windows %d setpoints, at worst %.2f ms from the clean day's; sentences: %+v", laps, seen[1], len(b), float64(worstNs)*1e-6, counts)
}
