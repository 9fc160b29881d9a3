// This file opens each kind of port, and reopens it after it was lost.

package port

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"syscall"
	"time"

	"liftbench/replay/crash"
)

// The wait before a port is reopened doubles from firstWait to longestWait. It
// has no random part, because few programs connect to the same peer.
const (
	firstWait   = 100 * time.Millisecond
	longestWait = 5 * time.Second
	steady      = 2 * time.Second // after a connection this long the wait is firstWait again
	dialTimeout = 5 * time.Second
	mostPeers   = 16 // of a port that listens
)

func (p *Port) open() error {
	switch p.spec.Kind {
	case Std:
		return p.openStd()
	case File:
		return p.openFile()
	case TCPListen:
		return p.listen()
	case UDPListen:
		c, err := net.ListenPacket("udp", p.spec.Addr)
		if err != nil {
			return err
		}
		p.addr = c.LocalAddr().String()
		p.work.Go(crash.Guard(func() { p.serve(newPeer(p.addr, &datagrams{c}, true)) }))
		return nil
	case Serial:
		p.work.Go(crash.Guard(func() { p.keep(p.openSerial) }))
	case CAN:
		p.work.Go(crash.Guard(func() { p.keep(p.openCAN) }))
	default:
		p.work.Go(crash.Guard(func() { p.keep(p.dial) }))
	}
	return nil
}

// keep opens the device or connection, serves it until it is lost, waits, and
// opens it again, until the port is closed.
func (p *Port) keep(open func() (io.ReadWriteCloser, error)) {
	wait := firstWait
	for p.ctx.Err() == nil {
		conn, err := open()
		if err == nil {
			since := time.Now()
			p.serve(newPeer(p.spec.Addr, conn, p.spec.Kind == UDP || p.spec.Kind == CAN))
			if time.Since(since) >= steady {
				wait = firstWait
			}
		} else if p.ctx.Err() == nil {
			p.tell(Event{Kind: Failed, Peer: p.spec.Addr, Err: err})
		}
		select {
		case <-p.ctx.Done():
		case <-time.After(wait):
			wait = min(2*wait, longestWait)
		}
	}
}

// dial connects by TCP or UDP.
func (p *Port) dial() (io.ReadWriteCloser, error) {
	network := "tcp"
	if p.spec.Kind == UDP {
		network = "udp"
	}
	ctx, cancel := context.WithTimeout(p.ctx, dialTimeout)
	defer cancel()
	var d net.Dialer
	c, err := d.DialContext(ctx, network, p.spec.Addr)
	if err != nil || p.spec.Kind != GPSD {
		return c, err
	}
	// This asks gpsd for NMEA sentences: those of the receiver, or those that
	// gpsd makes from the receiver's own protocol (gpsd_json(5), WATCH).
	if _, err := io.WriteString(c, `?WATCH={"enable":true,"nmea":true};`+"\n"); err != nil {
		c.Close()
		return nil, err
	}
	return c, nil
}

// listen accepts TCP peers until the port is closed.
func (p *Port) listen() error {
	l, err := net.Listen("tcp", p.spec.Addr)
	if err != nil {
		return err
	}
	p.addr = l.Addr().String()
	context.AfterFunc(p.ctx, crash.Guard(func() { l.Close() }))
	p.work.Go(crash.Guard(func() {
		for {
			c, err := l.Accept()
			if p.ctx.Err() != nil {
				if err == nil {
					c.Close()
				}
				return
			}
			if err != nil { // such as too many open files
				p.tell(Event{Kind: Failed, Peer: p.addr, Err: err})
				time.Sleep(firstWait)
				continue
			}
			q := newPeer(c.RemoteAddr().String(), c, false)
			p.mu.Lock()
			full := len(p.peers) >= mostPeers
			p.mu.Unlock()
			if full {
				c.Close()
				p.tell(Event{Kind: Failed, Peer: q.name, Err: fmt.Errorf("refused: %d peers are connected already, the most allowed", mostPeers)})
				continue
			}
			p.work.Go(crash.Guard(func() { p.serve(q) }))
		}
	}))
	return nil
}

// refused reports whether err says that an earlier UDP datagram was refused
// because no program receives at its address yet.
func (p *Port) refused(err error) bool {
	return p.spec.Kind == UDP && errors.Is(err, syscall.ECONNREFUSED)
}

// datagrams makes a reader of a UDP socket that receives from any sender.
type datagrams struct{ net.PacketConn }

func (d *datagrams) Read(b []byte) (int, error) {
	n, _, err := d.ReadFrom(b)
	return n, err
}

func (d *datagrams) Write([]byte) (int, error) { return 0, errors.ErrUnsupported }
