// The page follows a live bench: server-sent events (HTML standard, section
// 9.2) of a state and the changes since.

package web

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"sync"
	"time"
)

// Instant is the state of a live bench at one instant. It is sent once a second, whether
// positions arrive or not, so that a page that shows an old drive says that it is old.
type Instant struct {
	ClockMs  int64  `json:"clock"`    // the receiver's UTC, ms since 1970
	Started  bool   `json:"started"`  // a position has come
	AgeMs    int64  `json:"age"`      // of the newest position
	MaxAgeMs int64  `json:"maxAge"`   // from which age on a position counts as lost
	AwayM    int64  `json:"away"`     // of it from the box around the field, m; 0 = inside, or not known
	Quality  string `json:"quality"`  // of the newest epoch
	SpeedMmS *int64 `json:"speed"`    // null = not known
	Standing bool   `json:"standing"` // the machine stands
	Lost     string `json:"lost"`     // why the position is lost; "" = it is not
	LostMs   int64  `json:"lostFor"`  // for how long
	FailSafe string `json:"failSafe"` // what the fail-safe has done since: "lift", "hold"; "" = nothing yet
	Told     string `json:"told"`     // the setpoints, a character a section: 1 = in work, 0 = up
}

// feedKept is how many changes a Feed keeps for browsers that slept.
const feedKept = 512

// Feed is what a live bench tells the page: the newest state, and the last
// changes with their numbers. A browser that comes back says the last number
// it saw: it gets the changes it missed, or the whole state when too many have
// passed. Publishing never waits for a browser. A Feed with its Run is ready.
type Feed struct {
	// Run names the run in the numbers of its changes, so that a browser that
	// remembers another run gets the whole state: letters and digits.
	Run string

	mu    sync.Mutex
	state []byte
	last  int64 // number of the newest change
	ring  [feedKept][]byte
	wake  chan struct{} // closed at the next change
}

// Publish makes state, which is JSON, the newest state, and change, which is
// JSON too, the change that led to it. A nil change: the state moved on without
// a change worth sending. Neither may hold a line break. Both belong to the
// Feed from now on.
func (f *Feed) Publish(state, change []byte) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.state = state
	if change == nil {
		return
	}
	f.last++
	f.ring[f.last%feedKept] = change
	if f.wake != nil {
		close(f.wake)
		f.wake = nil
	}
}

// number returns the number of the change that an event's id names; -1 where it
// is none of this run's.
func (f *Feed) number(id string) int64 {
	run, text, ok := strings.Cut(id, ".")
	n, err := strconv.ParseInt(text, 10, 64)
	if !ok || run != f.Run || err != nil || n < 0 {
		return -1
	}
	return n
}

// since returns what a browser that has seen event number seen lacks: the
// changes since, or the whole state (seen < 0, from the future, or too long
// ago). If it lacks nothing, since returns the channel to wait on.
func (f *Feed) since(seen int64) (state []byte, changes [][]byte, last int64, wake <-chan struct{}) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.wake == nil {
		f.wake = make(chan struct{})
	}
	if seen < 0 || seen > f.last || f.last-seen > feedKept {
		return f.state, nil, f.last, f.wake
	}
	for n := seen + 1; n <= f.last; n++ {
		changes = append(changes, f.ring[n%feedKept])
	}
	return nil, changes, f.last, f.wake
}

// Limits of the live stream: how many browsers follow, how often they are sent
// the state of now, which also shows that the connection lives, and how long a
// write may take.
const (
	maxFollowers  = 16
	nowEvery      = time.Second
	writeDeadline = 10 * time.Second
)

var followers = make(chan struct{}, maxFollowers)

// live streams the feed.
func (s *server) live(w http.ResponseWriter, r *http.Request) {
	feed := s.bench.Live
	if feed == nil {
		fail(w, &Error{Status: http.StatusNotFound, Msg: "nothing is live; liftbench live follows a receiver"})
		return
	}
	select {
	case followers <- struct{}{}:
		defer func() { <-followers }()
	default:
		fail(w, busy)
		return
	}
	seen := feed.number(r.Header.Get("Last-Event-ID"))
	head := w.Header()
	head.Set("Content-Type", "text/event-stream")
	head.Set("Cache-Control", "no-store")
	out := http.NewResponseController(w)
	// The server's deadline for an answer is not for a stream; each write has
	// its own.
	write := func(b []byte) bool {
		// An error: without deadlines (a test's recorder) no write blocks.
		_ = out.SetWriteDeadline(time.Now().Add(writeDeadline))
		if _, err := w.Write(b); err != nil {
			return false
		}
		return out.Flush() == nil
	}
	if !write([]byte("retry: 2000\n\n")) {
		return
	}
	tellNow := func() bool {
		b, err := json.Marshal(s.bench.Now())
		return err == nil && write(fmt.Appendf(nil, "event: now\ndata: %s\n\n", b))
	}
	second := time.NewTicker(nowEvery)
	defer second.Stop()
	if !tellNow() {
		return
	}
	for {
		state, changes, last, wake := feed.since(seen)
		var b []byte
		if state != nil {
			b = fmt.Appendf(b, "id: %s.%d\nevent: state\ndata: %s\n\n", feed.Run, last, state)
		}
		for i, c := range changes {
			b = fmt.Appendf(b, "id: %s.%d\nevent: change\ndata: %s\n\n", feed.Run, last-int64(len(changes)-1-i), c)
		}
		if len(b) > 0 && !write(b) {
			return
		}
		if state != nil || seen >= 0 {
			seen = last
		}
		select {
		case <-wake:
		case <-second.C:
			if !tellNow() {
				return
			}
		case <-r.Context().Done():
			return
		}
	}
}

// liveState answers with the newest state.
func (s *server) liveState(w http.ResponseWriter, r *http.Request) {
	if s.bench.Live == nil {
		fail(w, &Error{Status: http.StatusNotFound, Msg: "nothing is live; liftbench live follows a receiver"})
		return
	}
	state, _, _, _ := s.bench.Live.since(-1)
	if state == nil {
		state = []byte("null")
	}
	answer(w, r, "application/json", state)
}
