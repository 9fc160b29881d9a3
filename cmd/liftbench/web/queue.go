// Work within bounds: how many drives run at a time, how many requests wait,
// and how many finished drives are kept, since close-ups and downloads ask for
// the last drive seen.

package web

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/http"
	"sync"
	"time"

	"liftbench/cmd/liftbench/language"
)

const (
	atOnce   = 2                // drives computed at a time
	mayWait  = 8                // askers that wait for their turn
	waitTime = 20 * time.Second // for so long
	kept     = 4                // drives kept
	// keptPoses bounds the drives kept to some tens of megabytes.
	keptPoses = 100_000
)

// queue lets a bounded number of requests through.
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

// busy answers a request that finds the queue full.
var busy = &Error{Status: http.StatusServiceUnavailable, Msg: "too many computations at once; ask again"}

// place reserves a place, in which a request is read and waits; leave frees it.
func (q *queue) place() (leave func(), err error) {
	select {
	case q.places <- struct{}{}:
		return func() { <-q.places }, nil
	default:
		return nil, busy
	}
}

// turn waits, in a reserved place, until the request may run; leave ends its
// turn.
func (q *queue) turn(r *http.Request) (leave func(), err error) {
	late := time.NewTimer(waitTime)
	defer late.Stop()
	select {
	case q.turns <- struct{}{}:
		return func() { <-q.turns }, nil
	case <-late.C:
		return nil, busy
	case <-r.Context().Done():
		return nil, r.Context().Err()
	}
}

// key identifies a request by its setting and files.
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
	fmt.Fprintf(h, "zone %q\n", a.Zone)
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

// keep keeps a drive in place of the one that was not asked for for the longest
// time.
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

// compute wraps the answer to a request that needs a drive. It reserves a place
// first, since an upload is held in memory from then on, then reads the request
// and waits for its turn.
func (s *server) compute(h func(w http.ResponseWriter, r *http.Request, a *Ask) error) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if err := s.computed(w, r, h); err != nil {
			fail(w, err)
		}
	}
}

func (s *server) computed(w http.ResponseWriter, r *http.Request, h func(w http.ResponseWriter, r *http.Request, a *Ask) error) error {
	leave, err := s.queue.place()
	if err != nil {
		return err
	}
	defer leave()
	a, err := s.ask(w, r)
	if err != nil {
		return err
	}
	end, err := s.queue.turn(r)
	if err != nil {
		return err
	}
	defer end()
	return h(w, r, a)
}

// driveOf runs the drive that is asked for, unless it has just been run. The
// work ends early with ctx.
func (s *server) driveOf(ctx context.Context, a *Ask) (*Drive, error) {
	key := a.key(s.bench.Controls)
	if d := s.queue.find(key); d != nil {
		return d, nil
	}
	d, err := s.bench.Run(ctx, a)
	if err != nil {
		return nil, err
	}
	s.queue.keep(key, d)
	return d, nil
}

// driveOr returns the drive kept under the key that an earlier answer named, so
// that files need not be sent again to look at their result. Without a key it
// runs the drive that is asked for.
func (s *server) driveOr(ctx context.Context, key string, a *Ask) (*Drive, error) {
	if key == "" {
		return s.driveOf(ctx, a)
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
	d, err := s.driveOf(r.Context(), a)
	if err != nil {
		return err
	}
	answer(w, r, "application/json", d.appendJSON(nil, s.bench.Controls))
	return nil
}

// download answers with a file of a drive, in the language that the browser asks for.
func (s *server) download(f *File) func(http.ResponseWriter, *http.Request, *Ask) error {
	return func(w http.ResponseWriter, r *http.Request, a *Ask) error {
		d, err := s.driveOf(r.Context(), a)
		if err != nil {
			return err
		}
		body, err := f.Make(d, language.Accepted(r.Header.Get("Accept-Language")))
		if err != nil {
			return err
		}
		w.Header().Add("Vary", "Accept-Language")
		w.Header().Set("Content-Disposition", `attachment; filename="`+f.Name+`"`)
		answer(w, r, f.Type, body)
		return nil
	}
}
