// One peer: what is queued for it, and what it says.

package port

import (
	"errors"
	"io"
	"slices"
	"sync"
)

// queueLines is how many lines a peer may be behind: five decisions on 48
// sections.
const queueLines = 256

// writeBytes is about how much is written at once.
const writeBytes = 16 << 10

// peer is an open device or connection.
type peer struct {
	name string
	conn io.ReadWriteCloser
	// single: one line is one message, not to be joined with others.
	single bool

	mu     sync.Mutex
	ready  *sync.Cond
	lines  [queueLines][]byte // a ring; each keeps its memory
	first  int
	count  int
	busy   bool // something is being written
	closed bool
}

func newPeer(name string, conn io.ReadWriteCloser, single bool) *peer {
	q := &peer{name: name, conn: conn, single: single}
	q.ready = sync.NewCond(&q.mu)
	return q
}

// put queues a line and reports whether the oldest had to go for it.
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

func (q *peer) idle() bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.count == 0 && !q.busy || q.closed
}

// close ends both directions.
func (q *peer) close() {
	q.mu.Lock()
	was := q.closed
	q.closed = true
	q.ready.Broadcast()
	q.mu.Unlock()
	if !was {
		q.conn.Close()
	}
}

// next waits for lines and moves them to buf: all there are up to writeBytes,
// or one.
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

// speak sends what is queued until the peer is closed or fails.
func (p *Port) speak(q *peer) error {
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
				continue // a datagram that was refused: the next may pass
			}
			return err
		}
		p.sent.Add(lines)
	}
}

var errClosed = errors.New("closed here")

// hear hands on what the peer says until it is closed or fails.
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

// serve runs a peer until one direction ends.
func (p *Port) serve(q *peer) {
	p.mu.Lock()
	if p.ctx.Err() != nil {
		p.mu.Unlock()
		q.conn.Close()
		return
	}
	if p.spec.Kind == TCPListen && p.mode&In != 0 {
		for _, old := range p.peers {
			old.close()
		}
	}
	p.peers = append(p.peers, q)
	p.mu.Unlock()
	again := p.connects.Add(1) > 1
	p.tell(Event{Kind: Connected, Again: again, Peer: q.name})

	var writer sync.WaitGroup
	var writeErr error
	if p.mode&Out != 0 {
		writer.Go(func() {
			writeErr = p.speak(q)
			q.close()
		})
	}
	err := p.hear(q)
	q.close()
	writer.Wait()
	if writeErr != nil && writeErr != errClosed {
		err = writeErr
	}
	p.leave(q, err)
}

// leave forgets a peer that was closed.
func (p *Port) leave(q *peer, err error) {
	p.mu.Lock()
	p.peers = slices.DeleteFunc(p.peers, func(r *peer) bool { return r == q })
	p.mu.Unlock()
	if p.ctx.Err() == nil {
		p.tell(Event{Kind: Disconnected, Peer: q.name, Err: err})
	}
}
