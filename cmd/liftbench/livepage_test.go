// The page that follows a live run.

package main

import (
	"bufio"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"liftbench/cmd/liftbench/loop"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/web"
	"liftbench/nmea"
	"liftbench/sections"
)

// followedDemo is the demo's drive as a live run would hand it to the page:
// fixes and setpoints in the order of time, until so many fixes.
func followedDemo(t testing.TB, fixes int) *loop.LivePage {
	t.Helper()
	u, err := new(settings.Selection).Load()
	if err != nil {
		t.Fatal(err)
	}
	job := run.Job(u)
	var heard []nmea.Fix
	job.Watch = func(f *nmea.Fix) { heard = append(heard, *f) }
	o := run.New(u)
	in, err := run.Open(u, job, o, nil, io.Discard)
	if err != nil {
		t.Fatal(err)
	}
	if err := o.Take(job, in, ""); err != nil {
		t.Fatal(err)
	}
	p, err := loop.NewLivePage(u, run.Job(u), "test", func() web.Instant { return web.Instant{} })
	if err != nil {
		t.Fatal(err)
	}
	next := 0
	for i := range heard[:min(fixes, len(heard))] {
		p.Fix(&heard[i])
		from := next
		for next < len(o.Setpoints) && o.Setpoints[next].DueNs < heard[i].TimeNs+100e6 {
			next++
		}
		if next > from {
			p.Decided(o.Setpoints[from:next])
		}
	}
	return p
}

// TestLivePage: what the page is shown of a live run is the drive of the last
// minutes, scored, however long the run.
func TestLivePage(t *testing.T) {
	for _, fixes := range []int{3000, 20000} {
		p := followedDemo(t, fixes)
		if len(p.Samples) > loop.LivePoses {
			t.Errorf("%d samples kept", len(p.Samples))
		}
		p.Publish()
		w := askPage(web.Handler(p.Bench()), "GET", "/api/live/state", "", nil)
		var state struct {
			Duration  int64
			Track     [][]float64
			Events    [][]any
			Setpoints [][]int64
			Height    []any
			Strips    []any
			Zones     []any
			Summary   any
		}
		if err := json.Unmarshal(w.Body.Bytes(), &state); err != nil {
			t.Fatalf("%v: %.300s", err, w.Body)
		}
		if last := int64(state.Track[len(state.Track)-1][0]); state.Duration < int64(fixes-2)*100 || last < state.Duration-1000 {
			t.Errorf("%d fixes: the drive lasts %d ms, its track ends at %d ms", fixes, state.Duration, last)
		}
		if len(state.Events) < 30 || len(state.Strips) < 12 || len(state.Zones) != 4 || len(state.Setpoints) != 6 {
			t.Errorf("%d fixes: %d events, %d strips, %d zones", fixes, len(state.Events), len(state.Strips), len(state.Zones))
		}
		paired := 0
		for _, e := range state.Events {
			if e[2].(float64) != 0 {
				continue
			}
			paired++
			if place := e[6].(float64) * 1e-4; place > 0.3 || place < -0.3 {
				t.Errorf("%d fixes: place error %g m", fixes, place)
			}
		}
		if paired < len(state.Events)-6 {
			t.Errorf("%d fixes: %d of %d events paired", fixes, paired, len(state.Events))
		}
	}
}

// TestLivePageUnseen: a drive that nobody looks at is not scored; whoever comes
// to look sees it as it is.
func TestLivePageUnseen(t *testing.T) {
	p := followedDemo(t, 600)
	p.Follow()
	if p.Told == 0 {
		t.Error("a state was made for nobody")
	}
	if w := askPage(p.Handler(), "GET", "/api/live/state", "", nil); !strings.Contains(w.Body.String(), `"track"`) {
		t.Errorf("the first to look sees %.100s", w.Body)
	}
	p.Told = 1
	p.Followers.Store(1)
	p.Follow()
	if p.Told != 0 {
		t.Error("no state was made for the one who follows")
	}
}

// TestLivePageSleeps: nothing new is not told again; a browser that comes back
// gets what it missed, one of another run the whole state.
func TestLivePageSleeps(t *testing.T) {
	onTheClock(t)
	p := followedDemo(t, 3000)
	server := httptest.NewServer(web.Handler(p.Bench()))
	defer server.Close()
	follow := func(last string) (events chan string, stop func()) {
		r, err := http.NewRequest("GET", server.URL+"/api/live", nil)
		if err != nil {
			t.Fatal(err)
		}
		if last != "" {
			r.Header.Set("Last-Event-ID", last)
		}
		resp, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		events = make(chan string, 100)
		go func() {
			defer close(events)
			id := ""
			for lines := bufio.NewReader(resp.Body); ; {
				line, err := lines.ReadString('\n')
				if err != nil {
					return
				}
				if s, ok := strings.CutPrefix(line, "id: "); ok {
					id = strings.TrimSpace(s)
				}
				if s, ok := strings.CutPrefix(line, "event: "); ok && s != "now\n" {
					events <- id + " " + strings.TrimSpace(s)
				}
			}
		}()
		return events, func() { resp.Body.Close() }
	}
	want := func(events chan string, list ...string) {
		t.Helper()
		for _, w := range list {
			select {
			case got := <-events:
				if got != w {
					t.Errorf("got %q, want %q", got, w)
				}
			case <-time.After(5 * time.Second):
				t.Fatalf("no %q", w)
			}
		}
	}
	first, stop := follow("")
	p.Publish()
	want(first, "test.1 state")
	p.Publish() // nothing new
	p.Decided([]sections.Setpoint{})
	p.Publish()
	want(first, "test.2 change")
	stop()
	for range 3 {
		p.Decided([]sections.Setpoint{})
		p.Publish()
	}
	back, stop := follow("test.2")
	want(back, "test.3 change", "test.4 change", "test.5 change")
	stop()
	other, stop := follow("before.2")
	want(other, "test.5 state")
	stop()
	future, stop := follow("test.77")
	want(future, "test.5 state")
	stop()
}

// BenchmarkLiveState is a state of ten minutes, once a second.
func BenchmarkLiveState(b *testing.B) {

	p := followedDemo(b, 5900)
	b.ReportAllocs()
	for b.Loop() {
		p.Told = 1
		p.Publish()
	}
}
