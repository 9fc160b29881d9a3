// Package desktop is for those who start the program from a desktop and not from a
// shell: by a double click on its icon, or with files dropped on it. It serves the
// page to their browser then.
package desktop

import (
	"bufio"
	"fmt"
	"io"
	"net"
	"net/netip"
	"net/url"
	"os"
	"slices"

	"github.com/pkg/browser"

	"liftbench/replay/crash"
)

// Arguments returns the command line to run in place of args where the program was
// started from a desktop: the page, with the files that were dropped on the icon; ok is
// false where it was not. names are those of the commands.
func Arguments(args, names []string) (serve []string, ok bool) {
	if !windowOfOwn() {
		return nil, false
	}
	return arguments(args, names)
}

func arguments(args, names []string) (serve []string, ok bool) {
	// Any free port, so that a second double click serves a second page.
	serve = []string{"serve", "--http", "127.0.0.1:0", "--open"}
	for i, a := range args {
		if i == 0 && slices.Contains(names, a) {
			return nil, false
		}
		if info, err := os.Stat(a); err != nil || !info.Mode().IsRegular() {
			return nil, false
		}
		serve = append(serve, "--give", a)
	}
	return serve, true
}

// WaitForEnter keeps the window open, which closes with the program, until what is in it
// was read.
func WaitForEnter(stdin io.Reader, stderr io.Writer) {
	fmt.Fprintln(stderr, "Press Enter to close this window.")
	_, _ = bufio.NewReader(stdin).ReadString('\n') // however it ends
}

// Show opens the page that is served at addr in the browser that the desktop names, and
// says so on stdout. It does not wait for the browser.
func Show(addr net.Addr, token string, stdout io.Writer) {
	fmt.Fprintln(stdout, "The page opens in your browser. Closing this window, or Ctrl-C in it, ends it.")
	// What a browser says of itself is not for the window.
	browser.Stdout, browser.Stderr = io.Discard, io.Discard
	go crash.Guard(func() {
		if err := browser.OpenURL(address(addr, token)); err != nil {
			fmt.Fprintf(stdout, "No browser could be opened (%v). Type the address above into one.\n", err)
		}
	})()
}

// address is where this computer's browser finds a page served at addr.
func address(addr net.Addr, token string) string {
	host, port, _ := net.SplitHostPort(addr.String()) // an address that is listened on has both
	if ip, err := netip.ParseAddr(host); err == nil && ip.IsUnspecified() {
		host = "127.0.0.1"
	}
	u := url.URL{Scheme: "http", Host: net.JoinHostPort(host, port), Path: "/"}
	if token != "" {
		u.RawQuery = url.Values{"token": {token}}.Encode()
	}
	return u.String()
}
