// This file opens standard input and output, and files. Their input ends, and
// their output has no peer that could be missing.

package port

import (
	"io"
	"os"

	"liftbench/replay/crash"
)

// sink is a peer that can only be written to.
type sink struct {
	io.Writer
	io.Closer
}

func (sink) Read([]byte) (int, error) { return 0, os.ErrInvalid }

// keepOpen does nothing on Close: standard output belongs to the whole program.
type keepOpen struct{}

func (keepOpen) Close() error { return nil }

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
		go crash.Guard(func() { p.readToEnd(in) })()
	}
	if p.mode&Out != 0 {
		p.writeTo(sink{out, keepOpen{}})
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
		p.writeTo(sink{f, f})
		return nil
	}
	f, err := os.Open(p.spec.Addr)
	if err != nil {
		return err
	}
	p.work.Go(crash.Guard(func() {
		defer f.Close()
		p.readToEnd(f)
	}))
	return nil
}

// writeTo writes the lines that are sent to s, in a goroutine of its own.
func (p *Port) writeTo(s sink) {
	q := newPeer(p.spec.Addr, s, false)
	p.peers = append(p.peers, q)
	p.connects.Add(1)
	p.work.Go(crash.Guard(func() {
		err := p.speak(q)
		q.close()
		p.leave(q, err)
	}))
}

// readToEnd passes what it reads from r to Read until r ends.
func (p *Port) readToEnd(r io.Reader) {
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
