// This file serves one peer: it writes the lines queued for it and reads what it
// sends.

package port

import (
	"errors"
	"io"
	"slices"
	"sync"

	"liftbench/replay/crash"
)

// queueLines is how many lines can wait for a slow peer: five times a setpoint
// for each of 48 sections.
const queueLines = 256

// writeBytes is about how many bytes one write joins.
const writeBytes = 16 << 10

// peer is an open device or connection.
type peer struct {
	name string
	conn io.ReadWriteCloser
	// single says that each line is written by itself, as a message of its own.
	single bool

	mu     sync.Mutex
	ready  *sync.Cond         // signalled when a line is queued or the peer closes
	lines  [queueLines][]byte // ring buffer; each slot's memory is reused
	first  int
	count  int
	busy   bool // a write is in progress
	closed bool
}

func newPeer(name string, conn io.ReadWriteCloser, single bool) *peer {
	q := &peer{name: name, conn: conn, single: single}
	q.ready = sync.NewCond(&q.mu)
	return q
}

// put queues a line and reports whether the oldest one was dropped for it.
func (q *peer) put(line []byte) (dropped bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.count == queueLines {
		q.first = (q.first + 1) % queueLines
		q.count--
		dropped = true
	}
	slot := &q.lines[(q.first+q.count)%queueLines]
	*slot = append((*slot)[:0], line...)
	q.count++
	q.ready.Signal()
	return dropped
}

// waiting returns how many lines are queued, a write in progress counted as one.
func (q *peer) waiting() int64 {
	q.mu.Lock()
	defer q.mu.Unlock()
	n := int64(q.count)
	if q.busy {
		n++
	}
	return n
}

// drained reports whether no line is waiting or being written; a closed peer has
// none.
func (q *peer) drained() bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.count == 0 && !q.busy || q.closed
}

// close closes the connection, which ends hear and speak. It may be called more
// than once.
func (q *peer) close() {
	q.mu.Lock()
	wasClosed := q.closed
	q.closed = true
	q.ready.Broadcast()
	q.mu.Unlock()
	if !wasClosed {
		q.conn.Close()
	}
}

// next waits until lines are queued and appends them to buf: one line if the peer
// is single, else lines of about writeBytes together. It returns 0 lines if the
// peer is closed.
func (q *peer) next(buf []byte) (b []byte, lines int64) {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.busy = false
	for q.count == 0 && !q.closed {
		q.ready.Wait()
	}
	if q.closed {
		return buf, 0
	}
	for q.count > 0 && (lines == 0 || !q.single && len(buf) < writeBytes) {
		buf = append(buf, q.lines[q.first]...)
		q.first = (q.first + 1) % queueLines
		q.count--
		lines++
	}
	q.busy = true
	return buf, lines
}

// speak writes queued lines to the peer until it is closed or a write fails. After
// a panic, which is told, it goes on once more: the lines that lift what is in work
// are still to come.
func (p *Port) speak(q *peer) (err error) {
	if crash.Run(func() { err = p.write(q) }) {
		err = p.write(q)
	}
	return err
}

func (p *Port) write(q *peer) error {
	var buf []byte
	for {
		b, lines := q.next(buf[:0])
		if lines == 0 {
			return errClosed
		}
		buf = b
		_, err := q.conn.Write(buf)
		if err != nil {
			p.lost.Add(lines)
			if q.single {
				continue // one message was refused; the next may get through
			}
			return err
		}
		p.sent.Add(lines)
	}
}

// errClosed says that this program closed the connection, not the peer.
var errClosed = errors.New("closed here")

// hear passes what the peer sends to Read until the peer is closed or a read
// fails.
func (p *Port) hear(q *peer) error {
	buf := make([]byte, 16<<10)
	for {
		n, err := q.conn.Read(buf)
		if n > 0 && p.mode&In != 0 && !p.take(buf[:n]) {
			return p.ctx.Err()
		}
		switch {
		case err == nil:
		case p.refused(err):
			p.lost.Add(1)
		default:
			return err
		}
	}
}

// serve reads from and writes to a peer until either of the two ends.
func (p *Port) serve(q *peer) {
	if !p.join(q) {
		q.conn.Close()
		return
	}
	again := p.connects.Add(1) > 1
	p.tell(Event{Kind: Connected, Again: again, Peer: q.name})

	var writer sync.WaitGroup
	var writeErr error
	if p.mode&Out != 0 {
		writer.Go(crash.Guard(func() {
			writeErr = p.speak(q)
			q.close()
		}))
	}
	err := p.hear(q)
	q.close()
	writer.Wait()
	if writeErr != nil && writeErr != errClosed {
		err = writeErr
	}
	p.leave(q, err)
}

// join adds a peer, and reports whether the port is open still. A receiver that
// connects takes the place of the one before.
func (p *Port) join(q *peer) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.ctx.Err() != nil {
		return false
	}
	if p.spec.Kind == TCPListen && p.mode&In != 0 {
		for _, old := range p.peers {
			old.close()
		}
	}
	p.peers = append(p.peers, q)
	return true
}

// leave removes a peer that was closed and reports its error as an event.
func (p *Port) leave(q *peer, err error) {
	p.mu.Lock()
	p.peers = slices.DeleteFunc(p.peers, func(r *peer) bool { return r == q })
	p.mu.Unlock()
	if p.ctx.Err() == nil {
		p.tell(Event{Kind: Disconnected, Peer: q.name, Err: err})
	}
}
