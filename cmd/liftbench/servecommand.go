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
	"liftbench/cmd/liftbench/desktop"
	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/flags"
	"liftbench/cmd/liftbench/guard"
	"liftbench/cmd/liftbench/page"
	"liftbench/cmd/liftbench/phone"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/tape"
	"liftbench/cmd/liftbench/web"
	"liftbench/cmd/liftbench/wording"
	"liftbench/replay/crash"
)

func newServeCommand() *cobra.Command {
	var sel settings.Selection
	addr, tokenFile := "127.0.0.1:8080", ""
	open, given := false, []string(nil)
	cmd := &cobra.Command{
		Use:   "serve [SCENARIO]",
		Short: "Serve the page that shows what each setting does",
		Long: `serve answers a browser on this machine: turn speed, leads, oil, receiver,
headland and sections, and see at once what they do to crop and weeds. It needs
no network, and keeps nothing that is uploaded to it. Its room /measure is the
page of liftbench tape, for readings with flags and a tape.

With --http 0.0.0.0:8080 a phone in the same network reaches it: a token is
drawn, and the address is printed with it, as a QR code too. Nothing is encrypted.

` + wording.StandClear + `

With a SCENARIO its machine, field and drive are where the page starts. The
address printed is to be opened in the browser, which --open does; an interrupt
(Ctrl-C) ends it.

The page opens with the files of --give, as if they had been dropped on it: a
log, its machine, field and work states. Under Windows a double click on
liftbench.exe serves the page and opens it; files dropped on its icon are given.`,
		Example: `  liftbench serve
  liftbench serve --http 127.0.0.1:0 beets/scenario.yaml
  liftbench serve --open --give badday/day.nmea.gz --give badday/machine.yaml
  liftbench serve --http 0.0.0.0:8080`,
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
			w := b.Web()
			w.Measure.Text, w.Measure.Policy = tape.Page()
			if w.Given, err = page.Given(given); err != nil {
				return err
			}
			return servePage(ctx, addr, tokenFile, w, cmd.OutOrStdout(), open)
		},
	}
	flags.AddSelection(&sel, cmd)
	cmd.Flags().StringVar(&addr, "http", addr, "`HOST:PORT` to answer on; port 0 takes a free one, host 0.0.0.0 lets a phone in")
	cmd.Flags().BoolVar(&open, "open", false, "open the page in the browser")
	cmd.Flags().StringArrayVar(&given, "give", nil, "`FILE` that the page opens with; may be given again")
	cmd.Flags().StringVar(&tokenFile, "http-token-file", "", "`FILE` with the token that HTTP asks for; else that of "+guard.TokenVariable+", else, beyond loopback, one that is drawn")
	return cmd
}

// servePage serves the page until the context ends; open opens it in the browser.
func servePage(ctx context.Context, addr, tokenFile string, b web.Bench, stdout io.Writer, open bool) error {
	token, err := phone.Token(addr, tokenFile)
	if err != nil {
		return err
	}
	g, err := guard.New(addr, token)
	if err != nil {
		return &failure.Usage{Msg: fmt.Sprintf("--http: %v", err)}
	}
	g.AllowBody(web.MaxBodyBytes)
	l, err := g.Listen()
	if err != nil {
		return &failure.Input{File: "--http " + addr, Msg: "cannot listen: " + err.Error(), Err: err}
	}
	s := g.Server(web.Handler(b))
	if guard.Loopback(addr) {
		fmt.Fprintf(stdout, "http://%s/\n", l.Addr())
	} else if err := phone.Invite(stdout, l.Addr(), token, "/measure"); err != nil {
		return err
	}
	ended := make(chan error, 1)
	go crash.Guard(func() { ended <- s.Serve(l) })()
	if open {
		desktop.Show(l.Addr(), token, stdout)
	}
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
