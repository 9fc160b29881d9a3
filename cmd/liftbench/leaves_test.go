// Askers who leave while their drive is computed.

package main

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"liftbench/cmd/liftbench/page"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/web"
)

// leaving is a context that is done from its nth question on. It notes who asked.
type leaving struct {
	context.Context
	n     int64
	asked atomic.Int64
	lastNs,
	longestNs int64 // between two questions
	by map[string]int
}

func (l *leaving) Err() error {
	now := time.Now().UnixNano()
	if l.lastNs != 0 {
		l.longestNs = max(l.longestNs, now-l.lastNs)
	}
	l.lastNs = now
	var pc [12]uintptr
	frames := runtime.CallersFrames(pc[:runtime.Callers(2, pc[:])])
	for f, more := frames.Next(); more; f, more = frames.Next() {
		for _, stage := range []string{"field.read", "drive.(*planner).workZone", "score.(*walk).run", "page.(*whileAsked).Read", "evidence.(*Day).Stopped"} {
			if strings.HasSuffix(f.Function, stage) {
				l.by[stage]++
			}
		}
	}
	if l.asked.Add(1) >= l.n {
		return context.Canceled
	}
	return nil
}

// Reading the field, planning the drive, reading the log, scoring and diagnosing it end
// when the asker leaves, wherever they are.
func TestWorkEndsWhenTheAskerLeaves(t *testing.T) {
	dir := unpackedDay(t)
	upload := func(name string) web.Upload {
		data, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		return web.Upload{Name: name, Data: data}
	}
	bench, err := page.New(&settings.Selection{})
	if err != nil {
		t.Fatal(err)
	}
	for name, ask := range map[string]web.Ask{
		"generated": {Files: map[string]web.Upload{"machine": upload("machine.yaml"), "field": upload("field.geojson")}},
		"recorded":  {Files: map[string]web.Upload{"machine": upload("machine.yaml"), "field": upload("field.geojson"), "log": upload("day.nmea")}},
		"diagnosed": {Files: map[string]web.Upload{"machine": upload("machine.yaml"), "field": upload("field.geojson"), "log": upload("day.nmea"), "states": upload("day.states.csv")}},
	} {
		whole := &leaving{Context: context.Background(), n: 1 << 62, by: map[string]int{}}
		if _, err := bench.Run(whole, &ask); err != nil {
			t.Fatal(err)
		}
		stages := []string{"field.read", "score.(*walk).run", "page.(*whileAsked).Read"}
		switch name {
		case "generated":
			stages = append(stages, "drive.(*planner).workZone")
		case "diagnosed":
			stages = append(stages, "evidence.(*Day).Stopped")
		}
		for _, stage := range stages {
			if whole.by[stage] < 2 {
				t.Errorf("%s: %s asks %d times whether it is still wanted; want 2 or more", name, stage, whole.by[stage])
			}
		}
		t.Logf("%s: asked %d times, %v; at most %.0f ms between two questions", name, whole.asked.Load(), whole.by, float64(whole.longestNs)*1e-6)
		all := whole.asked.Load()
		for i := range int64(12) {
			left := &leaving{Context: context.Background(), n: 1 + i*all/12, by: map[string]int{}}
			if _, err := bench.Run(left, &ask); !errors.Is(err, context.Canceled) {
				t.Errorf("%s: left at question %d of %d: %v", name, left.n, all, err)
			}
			if more := left.asked.Load() - left.n; more > 3 {
				t.Errorf("%s: left at question %d of %d, and %d more were asked", name, left.n, all, more)
			}
		}
	}
}
