// Error over speed: the same setting at five speeds, and the line
// e = Δx + v·Δt through what came of it. The slope is a timing error, the
// intercept a geometry error.

package web

import (
	"math"
	"net/http"

	"gonum.org/v1/gonum/stat/distuv"

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
	var all []score.Event
	for _, share := range speedShares {
		b := Ask{Set: map[string]any{}}
		for k, v := range a.Set {
			b.Set[k] = v
		}
		b.Set[speedKey] = min(max(math.Round(set*share*10)/10, speed.Min), speed.Max)
		d, err := s.bench.Run(&b)
		if err != nil {
			return err
		}
		all = append(all, d.Outcome.Score.Events...)
	}
	e := &encoder{}
	e.open('{')
	e.key("points")
	e.open('[')
	for i := range all {
		v := &all[i]
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
	e.close(']')
	e.key("fit")
	e.value(map[string]diagnose.Fit{"lift": Fit(all, false), "drop": Fit(all, true)})
	e.close('}')
	answer(w, r, "application/json", e.b)
	return nil
}

// leastSpeedSpreadMps is the standard deviation of the speeds below which they
// are taken for one: slope and intercept cannot be told apart.
const leastSpeedSpreadMps = 0.1

// Fit fits e = Δx + v·Δt by least squares to the paired transitions of one
// way, with 95 % confidence intervals from Student's t.
func Fit(events []score.Event, on bool) diagnose.Fit {
	var n, sv, se float64
	each := func(add func(v, e float64)) {
		for i := range events {
			if x := &events[i]; x.Kind == score.Paired && x.On == on {
				add(x.SpeedMps, x.PlaceErrorM)
			}
		}
	}
	each(func(v, e float64) { n++; sv += v; se += e })
	fit := diagnose.Fit{Count: int(n)}
	if n < 3 {
		return fit
	}
	mv, me := sv/n, se/n
	var vv, ve float64
	each(func(v, e float64) { vv += (v - mv) * (v - mv); ve += (v - mv) * (e - me) })
	if math.Sqrt(vv/n) < leastSpeedSpreadMps {
		return fit
	}
	// Δt = Σ(v-v̄)(e-ē) / Σ(v-v̄)²,  Δx = ē - v̄·Δt.
	dt := ve / vv
	dx := me - mv*dt
	ss := 0.0
	each(func(v, e float64) { r := e - dx - v*dt; ss += r * r })
	t := distuv.StudentsT{Sigma: 1, Nu: n - 2}.Quantile(0.975)
	sigma := math.Sqrt(ss / (n - 2))
	around := func(x, se float64) (*float64, *diagnose.Interval) {
		r := func(x float64) float64 { return math.Round(x*1e6) / 1e6 }
		x, lo, hi := r(x), r(x-t*se), r(x+t*se)
		return &x, &diagnose.Interval{lo, hi}
	}
	fit.TimeErrorS, fit.TimeErrorCI = around(dt, sigma/math.Sqrt(vv))
	fit.PlaceErrorM, fit.PlaceErrorCI = around(dx, sigma*math.Sqrt(1/n+mv*mv/vv))
	return fit
}
