// A listener of a bounded number of connections, of which some stand by.

package guard

import (
	"context"
	"net"
	"net/http"
	"slices"
	"sync"
)

// boundedListener gives each connection a place while one is free. Those beyond
// stand by: they are accepted and their requests are read, so that HealthPath
// is answered whatever the others do, but anything else they ask waits for a
// place. Where too many stand by, the one that has done so longest is closed.
type boundedListener struct {
	net.Listener
	places chan struct{} // holds one value for each place that is taken

	mu      sync.Mutex
	standby []*boundedConn // the longest first
}

func newBoundedListener(l net.Listener) *boundedListener {
	return &boundedListener{Listener: l, places: make(chan struct{}, maxConnections)}
}

func (l *boundedListener) Accept() (net.Conn, error) {
	c, err := l.Listener.Accept()
	if err != nil {
		return nil, err
	}
	b := &boundedConn{Conn: c, listener: l}
	select {
	case l.places <- struct{}{}:
		b.placed = true
		return b, nil
	default:
	}
	var longest *boundedConn
	l.mu.Lock()
	if len(l.standby) == maxStandby {
		longest = l.standby[0]
		l.standby = l.standby[1:]
	}
	l.standby = append(l.standby, b)
	l.mu.Unlock()
	if longest != nil {
		longest.Close()
	}
	return b, nil
}

// boundedConn gives its place back when it is closed.
type boundedConn struct {
	net.Conn
	listener *boundedListener

	mu     sync.Mutex
	placed bool
	closed bool
}

func (c *boundedConn) Close() error {
	err := c.Conn.Close()
	c.mu.Lock()
	wasPlaced, wasClosed := c.placed, c.closed
	c.closed = true
	c.mu.Unlock()
	switch {
	case wasClosed:
	case wasPlaced:
		<-c.listener.places
	default:
		c.listener.forget(c)
	}
	return err
}

// forget takes a connection from those that stand by.
func (l *boundedListener) forget(c *boundedConn) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if i := slices.Index(l.standby, c); i >= 0 {
		l.standby = slices.Delete(l.standby, i, i+1)
	}
}

// await waits until the connection has a place, and reports whether it has one:
// not if ctx is done or it is closed before.
func (c *boundedConn) await(ctx context.Context) bool {
	c.mu.Lock()
	placed := c.placed
	c.mu.Unlock()
	if placed {
		return true
	}
	select {
	case c.listener.places <- struct{}{}:
	case <-ctx.Done():
		return false
	}
	c.listener.forget(c)
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.closed {
		<-c.listener.places
		return false
	}
	c.placed = true
	return true
}

// connKey is the key of a request's boundedConn in its context.
type connKey struct{}

// withConn keeps the connection for orderly.
func withConn(ctx context.Context, c net.Conn) context.Context {
	return context.WithValue(ctx, connKey{}, c)
}

// orderly answers HealthPath at once, and lets anything else wait until its
// connection has a place.
func orderly(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		c, ok := r.Context().Value(connKey{}).(*boundedConn)
		switch {
		case !ok:
		case r.URL.Path == HealthPath:
			w.Header().Set("Connection", "close") // make room for the next
		case !c.await(r.Context()):
			return
		}
		h.ServeHTTP(w, r)
	})
}
