// The metrics by name, value and allocation.

package metrics

import (
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"liftbench/nmea"
	"liftbench/nmea/epoch"
	"liftbench/sections"
	"liftbench/sections/score"
)

// text is the set as a node exporter reads it.
func text(t *testing.T, s *Set) string {
	t.Helper()
	var b strings.Builder
	if err := s.WriteText(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func none() Counts { return Counts{} }

// used calls everything that a set observes, on every section.
func used(sectionCount int, counts func() Counts) *Set {
	s := New(sectionCount, counts)
	f := nmea.EmptyFix()
	for q := range nmea.Quality(20) { // more than there are
		f.Quality, f.TimeNs = q, f.TimeNs+100e6
		s.Fix(&f, 50e6, 100e6)
	}
	var result score.Result
	for i := range sectionCount {
		for r := range sections.HeldDown + 1 {
			for _, on := range []bool{true, false} {
				s.Setpoint(sections.Setpoint{Section: int16(i), On: on, Reason: r})
			}
		}
		s.Worked(i, 1)
		spread := &score.Spread{}
		stats := score.Stats{Count: 2, Paired: 1, Missed: 1, Spurious: 1, TimeErrorS: spread, PlaceErrorM: spread}
		result.Sections = append(result.Sections, score.Section{Lift: stats, Drop: stats})
		result.Events = append(result.Events, score.Event{Section: int16(i), Kind: score.Paired}, score.Event{Section: int16(i), On: true, Kind: score.Paired})
	}
	s.Decided(1e6)
	s.Drive(1, 2, 3)
	s.Score(&result)
	return s
}

// TestNames: every name is ours and ends in its unit, or says that it counts
// or that it is a number without one (Prometheus, "Metric and label naming").
func TestNames(t *testing.T) {
	unitless := []string{"liftbench_fix_quality", "liftbench_section_setpoint", "liftbench_position_lost"}
	name := regexp.MustCompile(`^liftbench_[a-z0-9_]+_(seconds|meters|square_meters|square_meters_per_second|total)$`)
	seen := 0
	for line := range strings.Lines(text(t, used(2, none))) {
		fields := strings.Fields(line)
		if fields[0] != "#" || fields[1] != "TYPE" {
			continue
		}
		seen++
		if n := fields[2]; !name.MatchString(n) && !slices.Contains(unitless, n) {
			t.Errorf("%s names no unit", n)
		}
		if counter := fields[3] == "counter"; counter != strings.HasSuffix(fields[2], "_total") {
			t.Errorf("%s is a %s", fields[2], fields[3])
		}
	}
	if seen < 25 {
		t.Errorf("%d metrics only", seen)
	}
}

// TestLabelsAreBounded: how many series there are hangs on the machine's
// sections and the ports alone, never on what arrives.
func TestLabelsAreBounded(t *testing.T) {
	series := func(sectionCount, ports int) int {
		counts := func() (c Counts) {
			for i := range ports {
				c.Ports = append(c.Ports, Port{Name: fmt.Sprint("tcp:peer:", i+1), Out: true})
			}
			return c
		}
		s := used(sectionCount, counts)
		before := strings.Count(text(t, s), "\n")
		// All of it again, with other figures.
		f := nmea.EmptyFix()
		for i := range 1000 {
			f.TimeNs, f.Quality, f.SpeedMps = int64(i)*1e9, nmea.Quality(i%256), float64(i)
			s.Fix(&f, int64(i)*1e7, int64(i)*1e7)
			s.Decided(int64(i) * 1e5)
			s.Worked(i%sectionCount, 1)
		}
		if after := strings.Count(text(t, s), "\n"); after != before {
			t.Errorf("%d lines, %d after a thousand fixes", before, after)
		}
		return before
	}
	one, two, three := series(1, 0), series(2, 0), series(3, 0)
	if two-one != three-two {
		t.Errorf("%d, %d and %d lines for one, two and three sections", one, two, three)
	}
	if perPort := series(1, 2) - series(1, 1); perPort != 3 {
		t.Errorf("%d lines a port; want reconnects, sent and dropped", perPort)
	}
	if most := series(sections.MaxSections, 8); most > 40_000 {
		t.Errorf("%d lines for the largest machine", most)
	}
}

// TestValues: what a known run came to.
func TestValues(t *testing.T) {
	s := New(2, func() Counts {
		c := Counts{Lost: true, RecordLost: 3, Ports: []Port{{Name: "tcp:a:1", Reconnects: 2}, {Name: `file:"x"`, Out: true, Sent: 5, Dropped: 4}}}
		c.Reader.ByType[nmea.GGA] = 11
		c.Reader.BadChecksum, c.Reader.Malformed, c.Reader.Unknown = 7, 8, 9
		c.Reader.Epochs = epoch.Counts{Duplicates: 1, OutOfOrder: 2, Untimed: 3}
		c.Controller = sections.Counts{Accepted: 20, Stale: 1, LowQuality: 2, Jumped: 3, Late: [sections.LateCauses]int64{sections.Stood: 4}, FailSafe: 5, FailSafeLowQuality: 2}
		return c
	})
	f := nmea.EmptyFix()
	f.Quality, f.LatDeg, f.LonDeg, f.TimeNs = nmea.RTKFixed, 52, 9, 1_936_274_586_900e6
	s.Fix(&f, -1, 0) // how old it is and how long after another is not known
	f.TimeNs += 100e6
	s.Fix(&f, 40e6, 100e6)
	lost := nmea.EmptyFix()
	lost.TimeNs = f.TimeNs + 100e6
	s.Fix(&lost, 300e6, 100e6)
	s.Setpoint(sections.Setpoint{Section: 1, On: true, Reason: sections.AtBorder})
	s.Setpoint(sections.Setpoint{Section: 0, Reason: sections.LostFix})
	s.Decided(200_000)
	s.Worked(1, 1.5)
	s.Worked(1, 0.5)
	s.Drive(60, 120, 0.5)
	s.Score(&score.Result{
		ZoneM2: 1000,
		Events: []score.Event{
			{Section: 0, Kind: score.Paired, TimeErrorS: 0.2, PlaceErrorM: 0.44},
			{Section: 0, Kind: score.Paired, TimeErrorS: -0.04, PlaceErrorM: -0.09},
			{Section: 0, Kind: score.Missed, TimeErrorS: math.NaN(), PlaceErrorM: math.NaN()},
		},
		Sections: []score.Section{
			{
				Lift: score.Stats{Count: 3, Paired: 2, Missed: 1, TimeErrorS: &score.Spread{Mean: 0.08, P95Abs: 0.2, MaxAbs: 0.2}},
				Area: score.Areas{WorkedM2: 100, MissM2: 2, OverrunM2: 3, AcrossRowsM2: 1, RepeatM2: 4},
			},
			{Area: score.Areas{WorkedM2: 50}},
		},
	})
	got := text(t, s)
	for _, want := range []string{
		`liftbench_sentences_total{result="ok",type="GGA"} 11`,
		`liftbench_sentences_total{result="ok",type="RMC"} 0`,
		`liftbench_sentences_total{result="bad_checksum",type="any"} 7`,
		`liftbench_sentences_total{result="malformed",type="any"} 8`,
		`liftbench_sentences_total{result="unknown",type="other"} 9`,
		`liftbench_epochs_dropped_total{reason="out-of-order"} 2`,
		`liftbench_epochs_total{quality="rtk_fixed"} 2`,
		`liftbench_epochs_total{quality="no_fix"} 1`,
		`liftbench_fix_quality 0`,
		`liftbench_last_fix_timestamp_seconds 1.936274587e+09`,
		`liftbench_fix_age_seconds_count 2`,
		`liftbench_fix_age_seconds_bucket{le="0.05"} 1`,
		`liftbench_fix_interval_seconds_count 2`,
		`liftbench_fixes_used_total 20`,
		`liftbench_fixes_rejected_total{reason="jump"} 3`,
		`liftbench_setpoints_late_total{cause="standing"} 4`,
		`liftbench_setpoints_late_total{cause="estimate"} 0`,
		`liftbench_fail_safe_entries_total{reason="lost-fix"} 3`,
		`liftbench_fail_safe_entries_total{reason="low-quality"} 2`,
		`liftbench_position_lost 1`,
		`liftbench_port_reconnects_total{port="tcp:a:1"} 2`,
		`liftbench_output_sent_total{port="file:\"x\""} 5`,
		`liftbench_output_dropped_total{port="file:\"x\""} 4`,
		`liftbench_recording_lost_sentences_total 3`,
		`liftbench_section_setpoint{section="1"} 0`,
		`liftbench_section_setpoint{section="2"} 1`,
		`liftbench_setpoints_total{move="drop",reason="border"} 1`,
		`liftbench_setpoints_total{move="lift",reason="lost-fix"} 1`,
		`liftbench_decision_latency_seconds_bucket{le="0.00025"} 1`,
		`liftbench_decision_latency_seconds_bucket{le="0.0001"} 0`,
		`liftbench_transitions_total{match="missed",move="lift",section="1"} 1`,
		`liftbench_transition_time_error_seconds_count{move="lift",section="1"} 2`,
		`liftbench_transition_time_error_seconds_bucket{move="lift",section="1",le="0"} 1`,
		`liftbench_transition_place_error_meters_sum{move="lift",section="1"} 0.35`,
		`liftbench_time_error_seconds{move="lift",section="1",statistic="p95_abs"} 0.2`,
		`liftbench_area_square_meters{ground="worked",section="1"} 100`,
		`liftbench_area_square_meters{ground="worked",section="2"} 50`, // the score's, in place of what was added up
		`liftbench_area_square_meters{ground="repeat",section="1"} 4`,
		`liftbench_zone_area_square_meters 1000`,
		`liftbench_drive_duration_seconds 60`,
		`liftbench_drive_distance_meters 120`,
	} {
		if !strings.Contains(got, "\n"+want+"\n") {
			t.Errorf("no line %s", want)
		}
	}
	for _, unwanted := range []string{`liftbench_output_sent_total{port="tcp:a:1"}`, `liftbench_place_error_meters{`} {
		if strings.Contains(got, unwanted) {
			t.Errorf("%s of what is none", unwanted)
		}
	}
}

// TestHandler: a scrape holds the set and what the process takes; the text file
// holds the set alone, for the node exporter has the process itself.
func TestHandler(t *testing.T) {
	s := New(1, none)
	w := httptest.NewRecorder()
	s.Handler().ServeHTTP(w, httptest.NewRequest("GET", "/metrics", nil))
	for _, name := range []string{"liftbench_position_lost 0", "go_goroutines ", "process_cpu_seconds_total "} {
		if !strings.Contains(w.Body.String(), "\n"+name) {
			t.Errorf("the scrape holds no %s", name)
		}
	}
	if got := text(t, s); strings.Contains(got, "go_goroutines") || !strings.Contains(got, "\nliftbench_position_lost 0\n") {
		t.Errorf("the text file holds\n%s", got)
	}
}

// TestScrapeBesideTheLibrary: what the client library's own handler answers to a
// scraper that takes text.
func TestScrapeBesideTheLibrary(t *testing.T) {
	s := used(3, func() Counts { return Counts{Ports: []Port{{Name: "tcp:a \"b\"\\:1", Out: true, Sent: 3}}} })
	ask := func(h http.Handler, query string) *httptest.ResponseRecorder {
		w := httptest.NewRecorder()
		h.ServeHTTP(w, httptest.NewRequest("GET", "/metrics"+query, nil))
		return w
	}
	process := prometheus.NewRegistry()
	process.MustRegister(collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	library := promhttp.HandlerFor(prometheus.Gatherers{s.registry, process}, promhttp.HandlerOpts{})
	got, want := ask(s.Handler(), ""), ask(library, "")
	if got.Code != want.Code {
		t.Fatalf("status %d, want %d", got.Code, want.Code)
	}
	// The library adds to the type how names of other than Latin letters are written.
	if g, w := got.Header().Get("Content-Type"), want.Header().Get("Content-Type"); !strings.HasPrefix(w, g) || !strings.HasPrefix(g, "text/plain; version=0.0.4") {
		t.Errorf("type %q, want %q", g, w)
	}
	// What the process takes changes between two scrapes; its names do not.
	figures := func(text string) string {
		var b strings.Builder
		for line := range strings.Lines(text) {
			if strings.HasPrefix(line, "go_") || strings.HasPrefix(line, "process_") {
				line = line[:strings.LastIndexByte(line, ' ')] + "\n"
			}
			b.WriteString(line)
		}
		return b.String()
	}
	if g, w := figures(got.Body.String()), figures(want.Body.String()); g != w {
		t.Errorf("the scrape holds\n%s\nwant\n%s", g, w)
	}
	const some = "?name[]=liftbench_output_sent_total&name[]=liftbench_fix_quality&name[]=liftbench_none"
	g, w := ask(s.Handler(), some).Body.String(), ask(library, some).Body.String()
	if g != w || strings.Count(g, "# TYPE") != 2 {
		t.Errorf("of two metrics the scrape holds\n%s\nwant\n%s", g, w)
	}
}

// TestScrapesAtATime: a third scrape beside two is turned away, and is answered when
// they have ended.
func TestScrapesAtATime(t *testing.T) {
	begun, end := make(chan struct{}), make(chan struct{})
	h := New(1, func() Counts {
		begun <- struct{}{}
		<-end
		return Counts{}
	}).Handler()
	status := make(chan int)
	ask := func() {
		w := httptest.NewRecorder()
		h.ServeHTTP(w, httptest.NewRequest("GET", "/metrics", nil))
		status <- w.Code
	}
	go ask()
	go ask()
	<-begun
	<-begun
	go ask()
	if got := <-status; got != http.StatusServiceUnavailable {
		t.Errorf("the third is answered with %d", got)
	}
	end <- struct{}{}
	end <- struct{}{}
	for range 2 {
		if got := <-status; got != http.StatusOK {
			t.Errorf("one of the first two is answered with %d", got)
		}
	}
	go ask()
	<-begun
	end <- struct{}{}
	if got := <-status; got != http.StatusOK {
		t.Errorf("after the first two it is answered with %d", got)
	}
}

// What is observed at each fix and setpoint allocates nothing.
func TestObservingDoesNotAllocate(t *testing.T) {
	s := used(4, none)
	f := nmea.EmptyFix()
	f.LatDeg, f.LonDeg, f.SpeedMps = 52, 9, 2
	if n := testing.AllocsPerRun(1000, func() {
		s.Fix(&f, 50e6, 100e6)
		s.Setpoint(sections.Setpoint{Section: 3, On: true})
		s.Worked(3, 0.1)
		s.Decided(1e5)
	}); n != 0 {
		t.Errorf("%g allocations", n)
	}
}
