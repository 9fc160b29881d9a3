// What /readyz says of positions.

package loop

import (
	"net/http/httptest"
	"testing"

	"liftbench/replay/live"
	"liftbench/sections"
)

func TestWanting(t *testing.T) {
	for _, c := range []struct {
		name   string
		s      live.Status
		status int
		body   string
	}{
		{"before the first position", live.Status{}, 503, "no position yet\n"},
		{"a position", live.Status{Started: true}, 200, "ok\n"},
		{"a position at rest", live.Status{Started: true, Standing: true}, 200, "ok\n"},
		{"lost on the way", live.Status{Started: true, Lost: true, LostReason: sections.LostFix}, 503, "position lost: lost-fix\n"},
		{"lost at rest", live.Status{Started: true, Lost: true, Standing: true, LostReason: sections.LostFix}, 503, "position lost: lost-fix; held while the machine stands\n"},
		{"of low quality at rest", live.Status{Started: true, Lost: true, Standing: true, LostReason: sections.LowQuality}, 503, "position lost: low-quality; held while the machine stands\n"},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := httptest.NewRecorder()
			readyz(func() string { return positionLost(c.s) })(w, httptest.NewRequest("GET", "/readyz", nil))
			if w.Code != c.status || w.Body.String() != c.body {
				t.Errorf("%d %q; want %d %q", w.Code, w.Body.String(), c.status, c.body)
			}
		})
	}
}
