// This file is the part of Port that callers use: they read bytes from it and
// send lines to it.

package port

import (
	"context"
	"fmt"
	"io"
	"sync"
	"sync/atomic"
	"time"

	"liftbench/replay/crash"
)

// Mode says whether a port is read from, sent to, or both.
type Mode uint8

const (
	In     Mode = 1 << iota // for Read
	Out                     // for Send
	Duplex = In | Out
)

// EventKind is what happened to a port.
type EventKind uint8

const (
	Connected    EventKind = iota // a device was opened or a peer connected
	Disconnected                  // the device or peer was lost; Err says why
	Failed                        // a device could not be opened or a peer was refused; Err says why
)

// Event is one thing that happened to a port.
type Event struct {
	Kind  EventKind
	Again bool   // with Connected: not for the first time
	Peer  string // the device, or the peer's address
	Err   error
}

// Options of Open. The zero value is usable.
type Options struct {
	// Events, if not nil, is called for each event, from the port's own
	// goroutines but never twice at once. It must not block.
	Events func(Event)
	// Stdin and Stdout replace the program's standard input and output for the
	// port "-", if not nil.
	Stdin  io.Reader
	Stdout io.Writer
}

// Counts of what a port did so far.
type Counts struct {
	Connects   int64 // connections made
	Reconnects int64 // connections after the first
	Sent       int64 // lines written, counted once for each peer
	Dropped    int64 // lines lost because a peer was slow or missing
	Peers      int64 // connected now
	Waiting    int64 // lines that wait to be written now, counted once for each peer
}

// Port is an open port.
type Port struct {
	spec Spec
	mode Mode
	opt  Options
	addr string

	ctx    context.Context
	cancel context.CancelFunc
	work   sync.WaitGroup

	in    chan []byte   // bytes that arrived; the sender waits for used before it reuses them
	used  chan struct{} // says that Read has copied all of them
	rest  []byte        // bytes that Read has not copied yet
	ended chan struct{} // closed after the last byte of a file
	err   error         // why the input ended; valid once ended is closed

	mu    sync.Mutex
	peers []*peer

	telling    sync.Mutex // makes calls of Options.Events one at a time
	connects   atomic.Int64
	sent, lost atomic.Int64
}

// Open opens a port. It fails only for reasons that waiting cannot mend: the kind
// of port does not support the mode, the address to listen on is taken, or a
// file does not exist. If a device or peer is missing, Open succeeds and the
// port tries again after 0.1 s, then after waits that double up to 5 s; after a
// connection of 2 s or more the wait is 0.1 s again. The port closes when ctx
// is done.
func Open(ctx context.Context, spec Spec, mode Mode, opt Options) (*Port, error) {
	if mode&^kinds[spec.Kind].modes != 0 || mode == 0 {
		return nil, fmt.Errorf("port %s: cannot be used for %s", spec, mode)
	}
	p := &Port{
		spec: spec, mode: mode, opt: opt, addr: spec.Addr,
		in: make(chan []byte), used: make(chan struct{}), ended: make(chan struct{}),
	}
	p.ctx, p.cancel = context.WithCancel(ctx)
	context.AfterFunc(p.ctx, crash.Guard(p.closePeers))
	if err := p.open(); err != nil {
		p.cancel()
		return nil, fmt.Errorf("port %s: %w", spec, err)
	}
	return p, nil
}

// String returns the mode in words.
func (m Mode) String() string {
	switch m {
	case In:
		return "input"
	case Out:
		return "output"
	case Duplex:
		return "input and output at once"
	}
	return "nothing"
}

// Addr returns the address that the port listens on. If port number 0 was asked
// for, it contains the number that the system chose. For a port that does not
// listen, Addr returns Spec.Addr.
func (p *Port) Addr() string { return p.addr }

// Interface returns the interface's name for lines in the form of candump: that
// of a CAN port, can0 for any other.
func (p *Port) Interface() string {
	if p.spec.Kind == CAN {
		return p.spec.Addr
	}
	return "can0"
}

// Read reads bytes that arrived. It blocks until there are some, even while the
// port reconnects. It returns io.EOF at the end of a file or of standard input,
// and the context's error once that is done. Only one goroutine may read.
func (p *Port) Read(b []byte) (int, error) { return p.read(p.ctx, b) }

// Until returns a reader of p that also ends when ctx is done. p itself stays
// open, so that the remaining lines can still be sent.
func (p *Port) Until(ctx context.Context) io.Reader { return &until{p, ctx} }

type until struct {
	p   *Port
	ctx context.Context
}

func (u *until) Read(b []byte) (int, error) { return u.p.read(u.ctx, b) }

func (p *Port) read(ctx context.Context, b []byte) (int, error) {
	if len(p.rest) == 0 {
		select {
		case p.rest = <-p.in:
		case <-p.ended:
			return 0, p.err
		case <-ctx.Done():
			return 0, ctx.Err()
		case <-p.ctx.Done():
			return 0, p.ctx.Err()
		}
	}
	n := copy(b, p.rest)
	if p.rest = p.rest[n:]; len(p.rest) == 0 {
		select {
		case p.used <- struct{}{}:
		case <-p.ctx.Done():
		}
	}
	return n, nil
}

// take passes bytes to Read and waits until it has copied them. It reports false
// if the port was closed first.
func (p *Port) take(b []byte) (ok bool) {
	select {
	case p.in <- b:
	case <-p.ctx.Done():
		return false
	}
	select {
	case <-p.used:
		return true
	case <-p.ctx.Done():
		return false
	}
}

// Send queues one line, with its line end, for every connected peer. It never
// blocks, and line may be reused at once. If a peer's queue is full, its oldest
// line is dropped. If no peer is connected the line is dropped; this is counted
// as Dropped, except on a port that listens, where no peer need be connected.
func (p *Port) Send(line []byte) {
	if p.mode&Out == 0 {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, q := range p.peers {
		if q.put(line) {
			p.lost.Add(1)
		}
	}
	if len(p.peers) == 0 && p.spec.Kind != TCPListen {
		p.lost.Add(1)
	}
}

// Counts returns what the port did so far. Any goroutine may call it.
func (p *Port) Counts() Counts {
	connects := p.connects.Load()
	c := Counts{Connects: connects, Reconnects: max(connects-1, 0), Sent: p.sent.Load(), Dropped: p.lost.Load()}
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, q := range p.peers {
		c.Peers++
		c.Waiting += q.waiting()
	}
	return c
}

// linger is how long Close waits until the queued lines are written.
const linger = time.Second

// Close writes the queued lines, which it allows one second, and closes the port.
// It returns when all goroutines of the port have ended, except one that reads
// standard input, because that cannot be interrupted.
func (p *Port) Close() error {
	for end := time.Now().Add(linger); p.pending() && time.Now().Before(end) && p.ctx.Err() == nil; {
		time.Sleep(time.Millisecond)
	}
	p.cancel()
	p.closePeers()
	p.work.Wait()
	return nil
}

// pending reports whether lines are waiting for a peer or being written.
func (p *Port) pending() bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, q := range p.peers {
		if !q.drained() {
			return true
		}
	}
	return false
}

func (p *Port) closePeers() {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, q := range p.peers {
		q.close()
	}
}

func (p *Port) tell(e Event) {
	if p.opt.Events == nil {
		return
	}
	p.telling.Lock()
	defer p.telling.Unlock()
	p.opt.Events(e)
}
