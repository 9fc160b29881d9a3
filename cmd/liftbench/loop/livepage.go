// The page of a live run: the last minutes as the page shows any drive, with
// simulated hydraulics answering the setpoints, since nobody hears the true
// tools.

package loop

import (
	"cmp"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/version"
	"liftbench/cmd/liftbench/web"
	"liftbench/nmea"
	"liftbench/sections"
	"liftbench/sections/motion"
	"liftbench/sections/score"
	"liftbench/sim"
	"liftbench/sim/hydraulics"
)

// The page keeps ten minutes at 10 Hz. When it holds more it forgets the oldest
// half, so that forgetting is seldom.
const (
	LivePoses     = 6000
	liveSetpoints = 20000
)

// LivePage gathers what the page shows. The engine's hooks feed it; publish
// makes a state of it, from another goroutine, while somebody looks.
type LivePage struct {
	feed  *web.Feed
	setup *settings.Setup
	job   *sim.Job
	gate  *sections.Gate

	Followers atomic.Int64 // requests that look at the run now
	now       func() web.Instant

	publishing  sync.Mutex
	publishedAt time.Time
	kept        kept // reused, so that the engine does not wait for memory

	mu        sync.Mutex
	Samples   []motion.Sample
	setpoints []sections.Setpoint
	changes   []sections.WorkChange // of the simulated tools
	initial   []bool                // their states before the first of changes
	bank      *hydraulics.Bank
	firstNs   int64
	Told      int // samples and setpoints since the last state
}

// kept holds what a state is made from, as it was at one instant.
type kept struct {
	samples   []motion.Sample
	setpoints []sections.Setpoint
	changes   []sections.WorkChange
	initial   []bool
}

// NewLivePage returns the page of a run. run identifies this run among earlier
// ones whose event numbers a browser may still remember. now returns the state
// of the run at this instant.
func NewLivePage(u *settings.Setup, job *sim.Job, run string, now func() web.Instant) (*LivePage, error) {
	bank, err := hydraulics.New(job.Hydraulics, len(job.Machine.Sections))
	if err != nil {
		return nil, err
	}
	ctl, err := sections.New(job.Machine, job.Field, job.Settings)
	if err != nil {
		return nil, err
	}
	return &LivePage{
		now: now, feed: &web.Feed{Run: run}, setup: u, job: job, gate: ctl.Gate(),
		bank: bank, initial: make([]bool, len(job.Machine.Sections)),
	}, nil
}

// Fix takes a fix that was given to the controller.
func (p *LivePage) Fix(f *nmea.Fix) {
	if !f.HasPosition() || !f.Dated {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if n := len(p.Samples); n > 0 && f.TimeNs <= p.Samples[n-1].TimeNs {
		return
	}
	if p.firstNs == 0 {
		p.firstNs = f.TimeNs
		p.bank.Start(f.TimeNs, false)
	}
	p.changes = p.bank.Advance(f.TimeNs, p.changes)
	if f.SpeedMps >= 0 { // NaN where none is told
		p.bank.Forward(f.SpeedMps)
	}
	if len(p.Samples) >= LivePoses {
		p.forget(LivePoses / 2)
	}
	e, n := p.job.Field.Plane.ToPlane(f.LatDeg, f.LonDeg)
	p.Samples = append(p.Samples, motion.SampleOf(f, e, n))
	p.Told++
}

// forget lets go of the oldest samples and of what the sections did before the
// first that is left.
func (p *LivePage) forget(samples int) {
	p.Samples = append(p.Samples[:0], p.Samples[samples:]...)
	first := p.Samples[0].TimeNs
	gone := 0
	for ; gone < len(p.changes) && p.changes[gone].TimeNs < first; gone++ {
		p.initial[p.changes[gone].Section] = p.changes[gone].On
	}
	p.changes = slices.Delete(p.changes, 0, gone)
	p.setpoints = slices.DeleteFunc(p.setpoints, func(s sections.Setpoint) bool { return s.DueNs < first })
}

// Decided takes setpoints.
func (p *LivePage) Decided(list []sections.Setpoint) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, s := range list {
		p.bank.Command(s)
	}
	p.setpoints = append(p.setpoints, list...)
	if n := len(p.setpoints); n > liveSetpoints {
		p.setpoints = slices.Delete(p.setpoints, 0, n/2)
	}
	p.Told++
}

// Follow publishes while somebody looks. A drive that nobody looks at is not
// scored.
func (p *LivePage) Follow() {
	if p.Followers.Load() > 0 {
		p.Publish()
	}
}

// Publish gives the page the newest state, if anything is new.
func (p *LivePage) Publish() {
	p.publishing.Lock()
	defer p.publishing.Unlock()
	p.publishedAt = time.Now()
	k := &p.kept
	n, firstNs := p.keep()
	const fewest = 3 // from which on a track can be smoothed
	if n == 0 || len(k.samples) < fewest {
		return
	}
	o := &sim.Outcome{Setpoints: k.setpoints, Changes: k.changes, Score: &score.Result{}}
	o.Reception.FirstNs = firstNs
	m := p.job.Machine
	o.Track = motion.Smooth(k.samples, m.Antenna())
	if m.Mount == sections.Trailed {
		motion.Trail(o.Track, m.HitchBehindM, m.DrawbarM)
	}
	if len(o.Track) == 0 {
		return
	}
	first, last := o.Track[0].TimeNs, o.Track[len(o.Track)-1].TimeNs
	o.DurationS = float64(last-o.Reception.FirstNs) * 1e-9
	if r, err := score.Run(o.Track, p.gate, o.Changes, k.initial, score.Options{Strips: true}); err == nil {
		o.Score = r
		// A border that the tools may still be crossing has no final score yet.
		const settleNs = 5e9
		r.Events = slices.DeleteFunc(r.Events, func(e score.Event) bool { return last-e.TimeNs() < settleNs })
	}
	// Where the drawing starts: a section that was in work before the first
	// pose is in work at it.
	for i, on := range k.initial {
		if on {
			o.Changes = slices.Insert(o.Changes, 0, sections.WorkChange{TimeNs: first, Section: int16(i), On: true})
		}
	}
	d := &web.Drive{
		Title: p.setup.Title, MachineName: cmp.Or(p.setup.Machine.Name, p.setup.Machine.Doc.File),
		Set: map[string]any{}, Outcome: o, Machine: m, Field: p.job.Field,
		Settings: p.job.Settings, Hydraulics: p.job.Hydraulics, Simulated: true,
	}
	p.feed.Publish(d.State(), []byte(`{"t":`+strconv.FormatInt((last-firstNs)/1e6, 10)+`}`))
}

// keep copies what there is to p.kept, and returns how much of it is new and when
// the drive began.
func (p *LivePage) keep() (told int, firstNs int64) {
	p.mu.Lock()
	defer p.mu.Unlock()
	k := &p.kept
	k.samples = append(k.samples[:0], p.Samples...)
	k.setpoints = append(k.setpoints[:0], p.setpoints...)
	k.changes = append(k.changes[:0], p.changes...)
	k.initial = append(k.initial[:0], p.initial...)
	told, p.Told = p.Told, 0
	return told, p.firstNs
}

// Handler returns the HTTP handler of the page. A browser that begins to follow
// gets a state that is up to date.
func (p *LivePage) Handler() http.Handler {
	h := web.Handler(p.Bench())
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if strings.HasPrefix(r.URL.Path, "/api/live") {
			defer p.Followers.Add(-1)
			if p.Followers.Add(1) == 1 && p.stale() {
				p.Publish()
			}
		}
		h.ServeHTTP(w, r)
	})
}

// stale reports whether the state is older than those who follow are shown.
func (p *LivePage) stale() bool {
	p.publishing.Lock()
	defer p.publishing.Unlock()
	return time.Since(p.publishedAt) >= pageEvery
}

// Bench returns what the page may ask of a live run: only to follow it.
func (p *LivePage) Bench() web.Bench {
	return web.Bench{Version: version.String(), Live: p.feed, Now: p.now}
}
