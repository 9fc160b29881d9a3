// Package phone lets a phone in the yard reach a page that this machine serves: a token that only who
// stands here sees, the address with it, and the same as a QR code.
package phone

import (
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"net/netip"
	"strings"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/guard"
	"liftbench/cmd/liftbench/qr"
	"liftbench/cmd/liftbench/wording"
)

// Token is what is asked for at an address HOST:PORT: what file or the environment says, else one drawn
// anew where other machines reach the address, else none.
func Token(addr, file string) (string, error) {
	token, err := guard.Token(file)
	var system *fs.PathError
	switch {
	case errors.As(err, &system):
		return "", failure.Opening(file, "a file with the HTTP token", err)
	case err != nil:
		return "", &failure.Input{File: file, Msg: err.Error(), Err: err}
	}
	if token == "" && !guard.Loopback(addr) {
		token = rand.Text()
	}
	return token, nil
}

// Invite prints how a phone reaches the page at path: the address with the token, as a QR code too,
// and what to know before. addr is where the server listens, beyond loopback.
func Invite(w io.Writer, addr net.Addr, token, path string) error {
	var b strings.Builder
	hosts, port := reached(addr)
	if len(hosts) == 0 {
		b.WriteString("This machine has no address that a phone could reach; join a network, or send the page as a file: liftbench tape --page measure.html\n")
	}
	for i, host := range hosts {
		address := fmt.Sprintf("http://%s%s?token=%s", net.JoinHostPort(host, port), path, token)
		if i > 0 {
			fmt.Fprintf(&b, "or %s\n", address)
			continue
		}
		fmt.Fprintf(&b, "For a phone in the same network:\n%s\n", address)
		if c, err := qr.Encode(address); err == nil { // a longer token than a terminal can show is typed
			b.WriteString(c.Text())
		}
	}
	b.WriteString("Who has this address sees the page until the program ends, and nothing is encrypted:\nuse it in a network that you trust.\n\n" + wording.StandClear + "\n")
	_, err := io.WriteString(w, b.String())
	return err
}

// reached are the hosts by which others reach a listener: its own, or where it listens on all
// interfaces, those of this machine, the first that a phone is likely to share.
func reached(addr net.Addr) (hosts []string, port string) {
	host, port, err := net.SplitHostPort(addr.String())
	if err != nil {
		return nil, ""
	}
	ip, err := netip.ParseAddr(host)
	if err != nil || !ip.IsUnspecified() {
		return []string{host}, port
	}
	all, err := net.InterfaceAddrs()
	if err != nil {
		return nil, port
	}
	var others []string
	for _, a := range all {
		p, err := netip.ParsePrefix(a.String())
		if err != nil || p.Addr().IsLoopback() || p.Addr().IsLinkLocalUnicast() {
			continue
		}
		if at := p.Addr().Unmap(); at.Is4() {
			hosts = append(hosts, at.String())
		} else {
			others = append(others, at.String())
		}
	}
	return append(hosts, others...), port
}
