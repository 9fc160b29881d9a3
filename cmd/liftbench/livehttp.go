// What live answers over HTTP: metrics, and whether it is well.

package main

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"time"

	"liftbench/cmd/liftbench/guard"
	"liftbench/replay/wire"
)

// liveServer answers until it is closed.
type liveServer struct {
	server *http.Server
	done   chan struct{}
}

// serve starts to answer on --http.
func (l *liveRun) serve(o *openedLive) (*liveServer, error) {
	token, err := guard.Token(l.tokenFile)
	if err != nil {
		return nil, &inputError{file: l.tokenFile, msg: err.Error(), err: err}
	}
	g, err := guard.New(l.http, token)
	if err != nil {
		return nil, &usageError{fmt.Sprintf("--http: %v (a token: --http-token-file FILE, or %s in the environment)", err, guard.TokenVariable)}
	}
	listener, err := g.Listen()
	if err != nil {
		return nil, &inputError{file: "--http " + l.http, msg: "cannot listen: " + err.Error(), err: err}
	}
	o.say("http://%s/metrics", listener.Addr())
	o.say("the page that follows: http://%s/", listener.Addr())
	s := &liveServer{server: g.Server(o.handler()), done: make(chan struct{})}
	go func() {
		defer close(s.done)
		if err := s.server.Serve(listener); !errors.Is(err, http.ErrServerClosed) {
			o.say("--http %s: %v", l.http, err)
		}
	}()
	return s, nil
}

// close ends answering, after those in hand.
func (s *liveServer) close() {
	ctx, cancel := context.WithTimeout(context.Background(), time.Second)
	defer cancel()
	if s.server.Shutdown(ctx) != nil {
		s.server.Close()
	}
	<-s.done
}

// handler answers /metrics, /healthz (the program runs) and /readyz (positions
// arrive and are good enough); everything else is the page that follows.
func (o *openedLive) handler() http.Handler {
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", o.set.Handler())
	mux.Handle("/", o.page.handler())
	mux.HandleFunc("GET /healthz", func(w http.ResponseWriter, _ *http.Request) { fmt.Fprintln(w, "ok") })
	mux.HandleFunc("GET /readyz", func(w http.ResponseWriter, _ *http.Request) {
		switch s := o.engine.Status(); {
		case !s.Started:
			http.Error(w, "no position yet", http.StatusServiceUnavailable)
		case s.Lost:
			http.Error(w, "position lost: "+wire.ReasonName(s.LostReason), http.StatusServiceUnavailable)
		default:
			fmt.Fprintln(w, "ok")
		}
	})
	return mux
}
