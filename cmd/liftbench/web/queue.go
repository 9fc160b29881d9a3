// Bounded work: so many drives at a time, so many askers that wait, and the
// last few drives kept, since close-ups and downloads ask for the drive just
// seen.

package web

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/http"
	"sync"
	"time"
)

const (
	atOnce   = 2                // drives computed at a time
	mayWait  = 8                // askers that wait for their turn
	waitTime = 20 * time.Second // for so long
	kept     = 4                // drives kept
	// keptPoses bounds the drives kept to some tens of megabytes.
	keptPoses = 100_000
)

// queue lets a bounded number of askers through.
type queue struct {
	places chan struct{} // computing or waiting
	turns  chan struct{} // computing

	mu    sync.Mutex
	drive []keptDrive // newest first
}

type keptDrive struct {
	key   [sha256.Size]byte
	drive *Drive
}

func newQueue() *queue {
	return &queue{places: make(chan struct{}, atOnce+mayWait), turns: make(chan struct{}, atOnce)}
}

// busy is the answer to whoever finds the queue full.
var busy = &Error{Status: http.StatusServiceUnavailable, Msg: "too many computations at once; ask again"}

// enter waits for a turn; leave ends it.
func (q *queue) enter(r *http.Request) (leave func(), err error) {
	select {
	case q.places <- struct{}{}:
	default:
		return nil, busy
	}
	late := time.NewTimer(waitTime)
	defer late.Stop()
	select {
	case q.turns <- struct{}{}:
		return func() { <-q.turns; <-q.places }, nil
	case <-late.C:
		err = busy
	case <-r.Context().Done():
		err = r.Context().Err()
	}
	<-q.places
	return nil, err
}

// key identifies what is asked for.
func (a *Ask) key(controls []Control) [sha256.Size]byte {
	h := sha256.New()
	for i := range controls {
		if v, ok := a.Set[controls[i].Key]; ok {
			fmt.Fprintf(h, "%s=%s\n", controls[i].Key, text(v))
		}
	}
	for _, part := range [...]string{"machine", "field", "log", "states"} {
		if f, ok := a.Files[part]; ok {
			fmt.Fprintf(h, "%s %q %d\n", part, f.Name, len(f.Data))
			h.Write(f.Data)
		}
	}
	return [sha256.Size]byte(h.Sum(nil))
}

// find returns the drive kept under key, or nil.
func (q *queue) find(key [sha256.Size]byte) *Drive {
	q.mu.Lock()
	defer q.mu.Unlock()
	for i, k := range q.drive {
		if k.key == key {
			copy(q.drive[1:i+1], q.drive[:i])
			q.drive[0] = k
			return k.drive
		}
	}
	return nil
}

// keep keeps a drive, in place of the one that was not asked for the longest.
func (q *queue) keep(key [sha256.Size]byte, d *Drive) {
	if len(d.Outcome.Track) > keptPoses {
		return
	}
	d.key = hex.EncodeToString(key[:])
	q.mu.Lock()
	defer q.mu.Unlock()
	if len(q.drive) < kept {
		q.drive = append(q.drive, keptDrive{})
	}
	copy(q.drive[1:], q.drive)
	q.drive[0] = keptDrive{key, d}
}

// compute wraps a question that needs a drive: reads it, waits for its turn.
func (s *server) compute(h func(w http.ResponseWriter, r *http.Request, a *Ask) error) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		a, err := s.ask(w, r)
		if err == nil {
			var leave func()
			if leave, err = s.queue.enter(r); err == nil {
				defer leave()
				err = h(w, r, a)
			}
		}
		if err != nil {
			fail(w, err)
		}
	}
}

// driveOf runs what is asked for, unless it has just been run.
func (s *server) driveOf(a *Ask) (*Drive, error) {
	key := a.key(s.bench.Controls)
	if d := s.queue.find(key); d != nil {
		return d, nil
	}
	d, err := s.bench.Run(a)
	if err != nil {
		return nil, err
	}
	s.queue.keep(key, d)
	return d, nil
}

// driveOr returns the drive kept under a key that an answer told, so that files
// need not be sent again to look at what came of them; without a key, the one
// that is asked for.
func (s *server) driveOr(key string, a *Ask) (*Drive, error) {
	if key == "" {
		return s.driveOf(a)
	}
	if sum, err := hex.DecodeString(key); err == nil && len(sum) == sha256.Size {
		if d := s.queue.find([sha256.Size]byte(sum)); d != nil {
			return d, nil
		}
	}
	return nil, &Error{Status: http.StatusGone, Msg: "the drive is no longer kept; ask with its setting and files"}
}

// run answers with a drive.
func (s *server) run(w http.ResponseWriter, r *http.Request, a *Ask) error {
	d, err := s.driveOf(a)
	if err != nil {
		return err
	}
	answer(w, r, "application/json", d.appendJSON(nil, s.bench.Controls))
	return nil
}

// download answers with a file of a drive.
func (s *server) download(f *File) func(http.ResponseWriter, *http.Request, *Ask) error {
	return func(w http.ResponseWriter, r *http.Request, a *Ask) error {
		d, err := s.driveOf(a)
		if err != nil {
			return err
		}
		body, err := f.Make(d)
		if err != nil {
			return err
		}
		w.Header().Set("Content-Disposition", `attachment; filename="`+f.Name+`"`)
		answer(w, r, f.Type, body)
		return nil
	}
}
