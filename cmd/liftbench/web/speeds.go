// Error over speed: the same setting at five speeds, and the line e = Δx + v·Δt
// through the results, as a diagnosis draws it. The slope is a timing error,
// the intercept a geometry error.

package web

import (
	"math"
	"net/http"

	"liftbench/replay/diagnose"
	"liftbench/sections/score"
)

// speedKey is the control that is turned.
const speedKey = "speed_kmh"

// speedShares are the speeds run, as shares of the one set.
var speedShares = [...]float64{0.5, 0.75, 1, 1.25, 1.5}

// speeds answers with error over speed.
func (s *server) speeds(w http.ResponseWriter, r *http.Request, a *Ask) error {
	if len(a.Files) > 0 {
		return badRequest("files came with the question; expected a setting alone: a recorded drive has its own speeds")
	}
	var speed *Control
	for i := range s.bench.Controls {
		if s.bench.Controls[i].Key == speedKey {
			speed = &s.bench.Controls[i]
		}
	}
	set, ok := a.Set[speedKey].(float64)
	if !ok {
		set, _ = speed.Default.(float64)
	}
	var drives [][]score.Event
	for _, share := range speedShares {
		b := Ask{Set: map[string]any{}}
		for k, v := range a.Set {
			b.Set[k] = v
		}
		b.Set[speedKey] = min(max(math.Round(set*share*10)/10, speed.Min), speed.Max)
		d, err := s.bench.Run(r.Context(), &b)
		if err != nil {
			return err
		}
		drives = append(drives, d.Outcome.Score.Events)
	}
	e := &encoder{}
	e.open('{')
	e.key("points")
	e.open('[')
	for _, events := range drives {
		for i := range events {
			v := &events[i]
			if v.Kind != score.Paired {
				continue
			}
			e.open('[')
			e.bool(v.On)
			e.mm(v.SpeedMps)
			e.scaled(v.PlaceErrorM, 1e4)
			e.int(int64(v.Section))
			e.close(']')
		}
	}
	e.close(']')
	lift, drop := diagnose.Line(drives...)
	e.fit(lift, drop)
	e.close('}')
	answer(w, r, "application/json", e.b)
	return nil
}
