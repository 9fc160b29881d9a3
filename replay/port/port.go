// A port as its user sees it: bytes to read, lines to send.

package port

import (
	"context"
	"fmt"
	"io"
	"sync"
	"sync/atomic"
	"time"
)

// Mode says what a port is for.
type Mode uint8

const (
	In     Mode = 1 << iota // Read
	Out                     // Send
	Duplex = In | Out
)

// EventKind is what happened to a port.
type EventKind uint8

const (
	Connected    EventKind = iota // a device was opened, a peer is there
	Disconnected                  // it vanished, or the peer closed; Err says why
	Failed                        // it could not be opened, or was turned away; Err says why
)

// Event is one thing that happened to a port.
type Event struct {
	Kind  EventKind
	Again bool   // Connected, and not for the first time
	Peer  string // who: a device, an address
	Err   error
}

// Options of Open. The zero value is usable.
type Options struct {
	// Events, when set, is told what happens, from the port's own goroutines,
	// one at a time. It must not block.
	Events func(Event)
	// Stdin and Stdout stand for standard input and output where the port is
	// "-".
	Stdin  io.Reader
	Stdout io.Writer
}

// Counts of what a port did so far.
type Counts struct {
	Connects   int64 // connections made
	Reconnects int64 // of them, those after the first
	Sent       int64 // lines handed to the system, one per peer
	Dropped    int64 // lines that a slow peer, or one that is away, did not get: the oldest go first
	Peers      int64 // connected now
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

	in    chan []byte   // what arrived, on loan until used
	used  chan struct{} // gives it back
	rest  []byte        // what Read has not handed on
	ended chan struct{} // closed after a file's last byte
	err   error         // why it ended; read after ended is closed

	mu    sync.Mutex
	peers []*peer

	telling    sync.Mutex
	connects   atomic.Int64
	sent, lost atomic.Int64
}

// Open opens a port. Only what can never work is an error: a port that is not
// for this mode, an address to listen on that is taken, a file that is not
// there. A device or peer that is not there yet is waited for: tried again
// after 0.1 s, then each time twice as long up to 5 s, and after 0.1 s again
// once it had been there for 2 s. When ctx is done everything ends.
func Open(ctx context.Context, spec Spec, mode Mode, opt Options) (*Port, error) {
	if mode&^kinds[spec.Kind].modes != 0 || mode == 0 {
		return nil, fmt.Errorf("port %s: cannot be used for %s", spec, mode)
	}
	p := &Port{
		spec: spec, mode: mode, opt: opt, addr: spec.Addr,
		in: make(chan []byte), used: make(chan struct{}), ended: make(chan struct{}),
	}
	p.ctx, p.cancel = context.WithCancel(ctx)
	context.AfterFunc(p.ctx, p.closePeers)
	if err := p.open(); err != nil {
		p.cancel()
		return nil, fmt.Errorf("port %s: %w", spec, err)
	}
	return p, nil
}

// String says what a mode is for.
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

// Addr is the address that a port listens on, with the port that the system
// chose where port 0 was asked for; else as in its Spec.
func (p *Port) Addr() string { return p.addr }

// Interface is the name that frames stand under in the text of candump: that
// of the interface, or can0 where the port is none.
func (p *Port) Interface() string {
	if p.spec.Kind == CAN {
		return p.spec.Addr
	}
	return "can0"
}

// Read reads what arrives. It blocks until there is something, through
// reconnects; it ends with io.EOF after a file or standard input, and with the
// context's error when that is done. It is for one goroutine.
func (p *Port) Read(b []byte) (int, error) { return p.read(p.ctx, b) }

// Until returns a reader of p that ends when ctx is done too, while p itself
// stays open for what is still to be sent.
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

// take hands bytes to Read and waits until they are used.
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

// Send queues one line for every peer. It never blocks; line may be reused at
// once. A full queue drops its oldest line. What is sent while the device or
// peer is away is dropped too; nobody waits for it on a port that listens.
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

// Counts may be called at any time from any goroutine.
func (p *Port) Counts() Counts {
	p.mu.Lock()
	peers := int64(len(p.peers))
	p.mu.Unlock()
	c := p.connects.Load()
	return Counts{Connects: c, Reconnects: max(c-1, 0), Sent: p.sent.Load(), Dropped: p.lost.Load(), Peers: peers}
}

// linger is how long Close waits for peers to take what is queued.
const linger = time.Second

// Close sends what is queued, for a second at most, and ends the port. It
// returns when all its goroutines have ended, but for one that reads standard
// input: that cannot be interrupted.
func (p *Port) Close() error {
	for end := time.Now().Add(linger); p.pending() && time.Now().Before(end) && p.ctx.Err() == nil; {
		time.Sleep(time.Millisecond)
	}
	p.cancel()
	p.closePeers()
	p.work.Wait()
	return nil
}

// pending reports whether some peer has not been sent everything.
func (p *Port) pending() bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, q := range p.peers {
		if !q.idle() {
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
