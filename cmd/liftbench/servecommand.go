// liftbench serve: the page.

package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os/signal"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"liftbench/cmd/liftbench/commandline"
	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/flags"
	"liftbench/cmd/liftbench/guard"
	"liftbench/cmd/liftbench/page"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/web"
	"liftbench/replay/crash"
)

func newServeCommand() *cobra.Command {
	var sel settings.Selection
	addr := "127.0.0.1:8080"
	cmd := &cobra.Command{
		Use:   "serve [SCENARIO]",
		Short: "Serve the page that shows what each setting does",
		Long: `serve answers a browser on this machine: turn speed, leads, oil, receiver,
headland and sections, and see at once what they do to crop and weeds. It needs
no network, and keeps nothing that is uploaded to it.

With a SCENARIO its machine, field and drive are where the page starts. The
address printed is to be opened in the browser; an interrupt (Ctrl-C) ends it.`,
		Example: `  liftbench serve
  liftbench serve --http 127.0.0.1:0 beets/scenario.yaml`,
		Args: commandline.AtMostOne,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := flags.TakeSelection(&sel, cmd, args); err != nil {
				return err
			}
			if !sel.IsScenario() {
				return &failure.Usage{Msg: sel.Arg + " is no scenario file; expected a name that ends in .yaml"}
			}
			b, err := page.New(&sel)
			if err != nil {
				return err
			}
			ctx, stop := signal.NotifyContext(cmd.Context(), syscall.SIGINT, syscall.SIGTERM)
			defer stop()
			return servePage(ctx, addr, b.Web(), cmd.OutOrStdout())
		},
	}
	flags.AddSelection(&sel, cmd)
	cmd.Flags().StringVar(&addr, "http", addr, "loopback `HOST:PORT` to answer on; port 0 takes a free one")
	return cmd
}

// servePage serves the page until the context ends.
func servePage(ctx context.Context, addr string, b web.Bench, stdout io.Writer) error {
	g, err := guard.New(addr, "")
	if err != nil {
		return &failure.Usage{Msg: fmt.Sprintf("--http %s: expected a loopback address with a port, as 127.0.0.1:8080; the page is for this machine alone", addr)}
	}
	g.AllowBody(web.MaxBodyBytes)
	l, err := g.Listen()
	if err != nil {
		return &failure.Input{File: "--http " + addr, Msg: "cannot listen: " + err.Error(), Err: err}
	}
	s := g.Server(web.Handler(b))
	fmt.Fprintf(stdout, "http://%s/\n", l.Addr())
	ended := make(chan error, 1)
	go crash.Guard(func() { ended <- s.Serve(l) })()
	select {
	case err := <-ended:
		return err
	case <-ctx.Done():
	}
	last, cancel := context.WithTimeout(context.Background(), 2*time.Second)
	defer cancel()
	if err := s.Shutdown(last); err != nil {
		_ = s.Close() // browsers that still follow
	}
	if err := <-ended; !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
}
