// A port as its user sees it: bytes to read, lines to send.

package port

import (
	"context"
	"errors"
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
	Failed                        // it could not be opened; it is tried again
)

// Event is one thing that happened to a port. Again counts Connected events
// after the first: reconnects.
type Event struct {
	Kind  EventKind
	Again bool
	Peer  string // who: a device, an address
	Err   error
}

// Options of Open. The zero value is usable.
type Options struct {
	// Events, when set, is told what happens, from the port's own goroutines,
	// one at a time. It must not block.
	Events func(Event)
}

// Counts of what a port did so far.
type Counts struct {
	Reconnects int64
	Sent       int64 // lines handed to the system, one per peer
	Dropped    int64 // lines that a slow or absent peer did not get: the oldest go first
	Peers      int64 // connected now
}

// Port is an open port.
type Port struct{ spec Spec }

// Interface is the name that frames stand under in the text of candump: that
// of the interface, or can0 where the port is none.
func (p *Port) Interface() string { return "can0" }

// Open opens a port. Only what can never work is an error: a spec that cannot
// be used in this mode, a listening address that is taken, a file that is not
// there. Devices and peers that are not there yet are waited for, with
// back-off. When ctx is done everything ends.
func Open(ctx context.Context, spec Spec, mode Mode, opt Options) (*Port, error) {
	return nil, errors.New("port: not built yet")
}

// Read reads what arrives. It blocks until there is something, through
// reconnects; it ends with io.EOF after a file or standard input, and with the
// context's error when that is done.
func (p *Port) Read(b []byte) (int, error) { return 0, errors.New("port: not built yet") }

// Send queues one line for every peer. It never blocks and never allocates
// once warm; line may be reused at once. A full queue drops its oldest line.
func (p *Port) Send(line []byte) {}

// Counts may be called at any time from any goroutine.
func (p *Port) Counts() Counts { return Counts{} }

// Close sends what is queued, for a second at most, and ends the port. It
// returns when all its goroutines have ended.
func (p *Port) Close() error { return nil }
