// A listener of a bounded number of connections.

package guard

import (
	"net"
	"sync"
)

// boundedListener accepts while fewer than cap(free) connections are open.
type boundedListener struct {
	net.Listener
	free   chan struct{}
	once   sync.Once
	closed chan struct{}
}

// Accept waits for a free place first, so that what is beyond it waits in the
// kernel's queue and costs nothing here.
func (l *boundedListener) Accept() (net.Conn, error) {
	select {
	case l.free <- struct{}{}:
	case <-l.closed:
		return nil, net.ErrClosed
	}
	c, err := l.Listener.Accept()
	if err != nil {
		<-l.free
		return nil, err
	}
	return &boundedConn{Conn: c, release: func() { <-l.free }}, nil
}

func (l *boundedListener) Close() error {
	l.once.Do(func() { close(l.closed) })
	return l.Listener.Close()
}

// boundedConn gives its place back when it is closed.
type boundedConn struct {
	net.Conn
	once    sync.Once
	release func()
}

func (c *boundedConn) Close() error {
	err := c.Conn.Close()
	c.once.Do(c.release)
	return err
}
