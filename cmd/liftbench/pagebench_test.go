// How long the page's drive takes.

package main

import (
	"context"
	"testing"

	"liftbench/cmd/liftbench/page"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/web"
)

func newTestBench(t testing.TB) *page.Bench {
	t.Helper()
	b, err := page.New(&settings.Selection{})
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// BenchmarkPage is a change of a control on the page, answer included.
func BenchmarkPage(bm *testing.B) {
	b := newTestBench(bm)
	for _, c := range []struct {
		name string
		set  map[string]any
	}{
		{"body", map[string]any{}},
		{"twelve-sections", map[string]any{"section_m": 0.5}},
		{"headland", map[string]any{"work_headland": true}},
	} {
		bm.Run(c.name, func(bm *testing.B) {
			bm.ReportAllocs()
			for bm.Loop() {
				d, err := b.Run(context.Background(), &web.Ask{Set: c.set})
				if err != nil {
					bm.Fatal(err)
				}
				bm.ReportMetric(d.Outcome.DurationS, "s-driven")
			}
		})
	}
}
