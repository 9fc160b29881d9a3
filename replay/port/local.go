// Standard input and output, and files: what has an end and no peer to wait
// for.

package port

import (
	"io"
	"os"
)

// sink is a peer that only takes.
type sink struct {
	io.Writer
	io.Closer
}

func (sink) Read([]byte) (int, error) { return 0, os.ErrInvalid }

// notOurs leaves what somebody else opened open.
type notOurs struct{}

func (notOurs) Close() error { return nil }

func (p *Port) openStd() error {
	in, out := p.opt.Stdin, p.opt.Stdout
	if in == nil {
		in = os.Stdin
	}
	if out == nil {
		out = os.Stdout
	}
	if p.mode&In != 0 {
		// A read of standard input cannot be interrupted, so Close does not
		// wait for it.
		go p.finish(in)
	}
	if p.mode&Out != 0 {
		p.fill(sink{out, notOurs{}})
	}
	return nil
}

func (p *Port) openFile() error {
	if p.mode == Duplex {
		return os.ErrInvalid
	}
	if p.mode == Out {
		f, err := os.Create(p.spec.Addr)
		if err != nil {
			return err
		}
		p.fill(sink{f, f})
		return nil
	}
	f, err := os.Open(p.spec.Addr)
	if err != nil {
		return err
	}
	p.work.Go(func() {
		defer f.Close()
		p.finish(f)
	})
	return nil
}

// fill sends what is queued to a sink.
func (p *Port) fill(s sink) {
	q := newPeer(p.spec.Addr, s, false)
	p.peers = append(p.peers, q)
	p.connects.Add(1)
	p.work.Go(func() {
		err := p.speak(q)
		q.close()
		p.leave(q, err)
	})
}

// finish hands a stream on to its end.
func (p *Port) finish(r io.Reader) {
	buf := make([]byte, 16<<10)
	for {
		n, err := r.Read(buf)
		if n > 0 && !p.take(buf[:n]) {
			return
		}
		if err != nil {
			p.err = err
			close(p.ended)
			return
		}
	}
}
