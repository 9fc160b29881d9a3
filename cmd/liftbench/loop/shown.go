// What is shown of a controller at work, ours or an outside one on the bench:
// metrics, the page that follows, and whether all is well.

package loop

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"net/http"
	"strconv"
	"time"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/guard"
	"liftbench/cmd/liftbench/metrics"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/terminal"
	"liftbench/cmd/liftbench/web"
	"liftbench/nmea"
	"liftbench/replay/crash"
	"liftbench/sections"
	"liftbench/sim"
)

// HttpFlags are the address to answer on and the file with the token of those
// who may ask.
type HttpFlags struct{ Addr, TokenFile string }

func (h *HttpFlags) check() error {
	if h.Addr == "" && h.TokenFile != "" {
		return &failure.Usage{Msg: "--http-token-file: expected it with --http"}
	}
	return nil
}

// shown gathers what is shown of a controller at work. Its methods are called
// one at a time, in the order of the drive.
type shown struct {
	set     *metrics.Set
	page    *LivePage // nil: nobody can look at it
	machine *sections.Machine
	on      []bool // what each section was last told
}

// newShown returns what is shown of a run of job. counts is called at each
// scrape, and now once a second for those who follow. There is a page only if
// HTTP is answered.
func newShown(u *settings.Setup, job *sim.Job, counts func() metrics.Counts, now func() web.Instant, http *HttpFlags) (*shown, error) {
	n := len(job.Machine.Sections)
	s := &shown{set: metrics.New(n, counts), machine: job.Machine, on: make([]bool, n)}
	if http.Addr == "" {
		return s, nil
	}
	var err error
	s.page, err = NewLivePage(u, job, strconv.FormatInt(time.Now().UnixNano(), 36), now)
	return s, err
}

// fix takes a fix, as metrics.Set.Fix does.
func (s *shown) fix(f *nmea.Fix, ageNs, intervalNs int64) {
	s.set.Fix(f, ageNs, intervalNs)
	if s.page != nil {
		s.page.Fix(f)
	}
	if math.IsNaN(f.SpeedMps) {
		return
	}
	for i, x := range s.machine.Sections {
		if s.on[i] {
			s.set.Worked(i, x.WidthM*f.SpeedMps*float64(intervalNs)*1e-9)
		}
	}
}

// setpoints shows what was decided.
func (s *shown) setpoints(list []sections.Setpoint) {
	if s.page != nil {
		s.page.Decided(list)
	}
	for _, x := range list {
		s.on[x.Section] = x.On
		s.set.Setpoint(x)
	}
}

// toldText is what sections were last told, as web.Instant writes it.
func toldText(on []bool) string {
	b := make([]byte, len(on))
	for i := range on {
		b[i] = "01"[btoi(on[i])]
	}
	return string(b)
}

// speedOf is a fix's speed in mm/s, nil where it says none.
func speedOf(f *nmea.Fix) *int64 {
	if math.IsNaN(f.SpeedMps) {
		return nil
	}
	mmS := int64(math.Round(f.SpeedMps * 1000))
	return &mmS
}

// handler answers /metrics, /healthz (the program runs) and /readyz. wanting
// says what is not as it should be; "" = nothing, and then /readyz is ok. Every
// other path is the page that follows.
func (s *shown) handler(wanting func() string) http.Handler {
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", web.Zipped(s.set.Handler()))
	mux.Handle("/", s.page.Handler())
	mux.HandleFunc("GET "+guard.HealthPath, func(w http.ResponseWriter, _ *http.Request) { fmt.Fprintln(w, "ok") })
	mux.HandleFunc("GET /readyz", readyz(wanting))
	return mux
}

func readyz(wanting func() string) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) {
		if x := wanting(); x != "" {
			http.Error(w, x, http.StatusServiceUnavailable)
			return
		}
		fmt.Fprintln(w, "ok")
	}
}

// server answers until it is closed.
type server struct {
	server *http.Server
	done   chan struct{}
	stop   context.CancelFunc
}

// serve starts to answer.
func (s *shown) serve(c *terminal.Console, h *HttpFlags, wanting func() string) (*server, error) {
	token, err := guard.Token(h.TokenFile)
	var system *fs.PathError
	if errors.As(err, &system) {
		return nil, failure.Opening(h.TokenFile, "a file with the HTTP token", err)
	}
	if err != nil {
		return nil, &failure.Input{File: h.TokenFile, Msg: err.Error(), Err: err}
	}
	g, err := guard.New(h.Addr, token)
	if err != nil {
		return nil, &failure.Usage{Msg: fmt.Sprintf("--http: %v (a token: --http-token-file FILE, or %s in the environment)", err, guard.TokenVariable)}
	}
	listener, err := g.Listen()
	if err != nil {
		return nil, &failure.Input{File: "--http " + h.Addr, Msg: "cannot listen: " + err.Error(), Err: err}
	}
	c.Say("http://%s/metrics", listener.Addr())
	first := ""
	if token != "" {
		first = "?token=TOKEN (the first time; then without)"
	}
	c.Say("the page that follows: http://%s/%s", listener.Addr(), first)
	ctx, stop := context.WithCancel(context.Background())
	x := &server{server: g.Server(s.handler(wanting)), done: make(chan struct{}), stop: stop}
	go crash.Guard(func() {
		defer close(x.done)
		if err := x.server.Serve(listener); !errors.Is(err, http.ErrServerClosed) {
			c.Say("--http %s: %v", h.Addr, err)
		}
	})()
	go crash.Guard(func() { every(ctx, pageEvery, s.page.Follow) })()
	return x, nil
}

// close stops the server after it has answered the requests in hand.
func (x *server) close() {
	x.stop()
	ctx, cancel := context.WithTimeout(context.Background(), time.Second)
	defer cancel()
	if x.server.Shutdown(ctx) != nil {
		x.server.Close()
	}
	<-x.done
}

// every calls f at an interval until ctx is done.
func every(ctx context.Context, interval time.Duration, f func()) {
	t := time.NewTicker(interval)
	defer t.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-t.C:
			f()
		}
	}
}
