package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"path/filepath"
	"strconv"
	"time"

	"github.com/spf13/pflag"

	"hangtrue/server/authority"
	"hangtrue/server/reach"
)

const (
	thisComputer = "127.0.0.1:8470"
	everybody    = ":8470"
	trustPort    = "8471"

	// renewEvery is how often certificates and this computer's addresses are looked at.
	renewEvery = time.Minute
	// warnWithin is when the end of the authority is worth a warning: from then on its
	// certificates are shorter.
	warnWithin = authority.LeafLife
)

// network is how serve is reached from other machines.
type network struct {
	lan              bool
	names            []string
	certificate, key string
	acme, acmeIndex  string
	trustAddr        string
	secure           bool // settle found that others are to reach it
}

// networkFlags are those that mean something only where others reach the server.
var networkFlags = []string{"name", "cert", "key", "acme", "acme-directory", "trust-addr"}

// flags adds the flags.
func (n *network) flags(f *pflag.FlagSet) {
	f.BoolVar(&n.lan, "lan", false, "serve phones in the network, over HTTPS, on port 8470")
	f.StringArrayVar(&n.names, "name", nil, "a `name` this computer has in the network, such as jobs.home.arpa")
	f.StringVar(&n.certificate, "cert", "", "certificate `file` (PEM), read again when it changes")
	f.StringVar(&n.key, "key", "", "`file` with the certificate's key (PEM)")
	f.StringVar(&n.acme, "acme", "", "public `name` to get a certificate for over ACME; its authority's terms are\naccepted, and port 80 of the name has to lead to --trust-addr")
	f.StringVar(&n.acmeIndex, "acme-directory", "", "`address` of another ACME authority's directory")
	f.StringVar(&n.trustAddr, "trust-addr", "", "`address` and port of the plain page that tells phones how to trust the server\n(port "+trustPort+" beside --addr)")
}

// settle checks the flags against each other and fills in what follows from them.
func (n *network) settle(addr *string, given func(flag string) bool) error {
	if n.lan && !given("addr") {
		*addr = everybody
	}
	local, err := reach.Local(*addr)
	if err != nil {
		return fmt.Errorf("--addr %s is not an address and port such as %s", *addr, thisComputer)
	}
	n.secure = n.lan || !local
	for _, flag := range networkFlags {
		if given(flag) && !n.secure {
			return fmt.Errorf("--%s is of use with --lan only", flag)
		}
	}
	switch {
	case (n.certificate == "") != (n.key == ""):
		return errors.New("--cert and --key go together")
	case n.certificate != "" && n.acme != "":
		return errors.New("--cert and --acme exclude each other")
	case n.acmeIndex != "" && n.acme == "":
		return errors.New("--acme-directory goes with --acme")
	case (n.certificate != "" || n.acme != "") && len(n.names) > 0:
		return errors.New("--name is for the program's own authority; with --cert or --acme the certificate says the names")
	case n.certificate != "" && n.trustAddr != "":
		return errors.New("--trust-addr is of no use with --cert: phones have to trust its authority already")
	}
	if n.trustAddr == "" {
		host, _, _ := net.SplitHostPort(*addr) // Local has read it
		n.trustAddr = net.JoinHostPort(host, trustPort)
	}
	return nil
}

// A source is certificates, and what is told about them.
type source struct {
	reach.Certificates
	host    string       // to open in a browser
	address string       // the same, whole and without a path
	own     string       // host and port for this computer's browsers and commands, or ""
	plain   http.Handler // beside the server, or nil
	more    string       // said after the addresses
	strict  bool         // browsers may insist on TLS: its authority is not lost by us
	changed func()       // says what another certificate means
}

// openNetwork puts certificates in front of a listener, opens the plain listener
// beside it, prints where both are, and keeps the certificates fresh until the
// context ends. The caller closes what it returns.
func (m Main) openNetwork(ctx context.Context, n network, dir string, listener net.Listener) (s *source, secured net.Listener, closePlain func() error, err error) {
	bound, err := netip.ParseAddrPort(listener.Addr().String())
	if err != nil {
		return nil, nil, nil, err
	}
	port := strconv.Itoa(int(bound.Port()))
	switch {
	case n.certificate != "":
		s, err = m.fromFiles(n)
	case n.acme != "":
		s, err = fromACME(n, filepath.Join(dir, "keys", "acme"))
	default:
		s, err = m.fromAuthority(n, dir, bound.Addr(), port)
	}
	if err != nil {
		return nil, nil, nil, err
	}
	closePlain = func() error { return nil }
	s.address = "https://" + net.JoinHostPort(s.host, port)
	said := s.address + "/\n"
	if s.plain != nil {
		l, err := listen("--trust-addr", n.trustAddr)
		if err != nil {
			return nil, nil, nil, err
		}
		closePlain = servePlain(newFair(l, mostOfOne), s.plain)
		_, port, _ := net.SplitHostPort(l.Addr().String()) // an address of the system's own
		said += fmt.Sprintf("http://%s/\n", net.JoinHostPort(s.host, port))
	}
	doors, own := thresholds(listener, bound)
	if s.own = own; own != "" {
		said = "http://" + own + "/\n" + said
	}
	fmt.Fprint(m.Stdout, said+s.more)
	look := m.Look
	if look == nil {
		ticker := time.NewTicker(renewEvery)
		context.AfterFunc(ctx, ticker.Stop)
		look = ticker.C
	}
	go reach.Watch(ctx, look, s, func(err error) {
		if err != nil {
			slog.Error("the certificate stays as it is", "cause", err)
			return
		}
		s.changed()
	})
	return s, newDoorway(reach.TLS(s), doors...), closePlain, nil
}

// thresholds are the listener and, where it does not take in this computer's own
// loopback, one that does, if the port is free there; and the host and port where this
// computer's browser and commands reach the server, if they do.
func thresholds(listener net.Listener, bound netip.AddrPort) (doors []net.Listener, at string) {
	doors = []net.Listener{listener}
	own := netip.AddrPortFrom(netip.AddrFrom4([4]byte{127, 0, 0, 1}), bound.Port())
	switch address := bound.Addr().Unmap(); {
	case address.IsLoopback():
		own = bound
	case !address.IsUnspecified():
		more, err := net.Listen("tcp", own.String())
		if err != nil {
			slog.Warn("this computer's own browser reaches the server over HTTPS only", "cause", err)
			return doors, ""
		}
		doors = append(doors, more)
	}
	return doors, own.String()
}

// servePlain serves until it is closed. What is asked there is small, and so is what
// may take its time.
func servePlain(l net.Listener, h http.Handler) (stop func() error) {
	const within = 10 * time.Second
	plain := &http.Server{Handler: h, ReadTimeout: within, WriteTimeout: within, IdleTimeout: within, MaxHeaderBytes: 8 << 10,
		ErrorLog: slog.NewLogLogger(slog.Default().Handler(), slog.LevelDebug)}
	go func() {
		if err := plain.Serve(l); !errors.Is(err, http.ErrServerClosed) {
			slog.Error("the plain page is gone", "cause", err)
		}
	}()
	return plain.Close
}

func (m Main) fromFiles(n network) (*source, error) {
	files, err := reach.NewFiles(n.certificate, n.key, m.Now)
	if err != nil {
		return nil, err
	}
	return &source{Certificates: files, host: files.Host(), changed: func() { slog.Info("the certificate's files were read again") }}, nil
}

func fromACME(n network, folder string) (*source, error) {
	a, err := reach.NewACME(n.acme, folder, n.acmeIndex)
	if err != nil {
		return nil, fmt.Errorf("--acme: %w", err)
	}
	return &source{Certificates: a, host: n.acme, plain: a.Challenges(), strict: true}, nil // it reports no change
}

func (m Main) fromAuthority(n network, dir string, bound netip.Addr, port string) (*source, error) {
	machine := m.Machine
	machine.Given = n.names
	if !bound.IsUnspecified() {
		machine.Only = bound.Unmap()
	}
	called, err := machine.Called()
	if err != nil {
		return nil, fmt.Errorf("--name: %w", err)
	}
	a, err := authority.Open(dir, called, m.Now())
	if err != nil {
		return nil, err
	}
	leaf, err := authority.NewLeaf(a, machine.Names, m.Now)
	if err != nil {
		return nil, err
	}
	for _, name := range n.names {
		if !leaf.Answers(name) {
			return nil, fmt.Errorf("--name %s: %w. It does for names in .local and .home.arpa, and for those that this computer had when it was made: %s. "+
				"Move keys/authority.key and keys/authority.crt away to make another, which every phone has to trust anew", name, authority.ErrName, a.Domains())
		}
	}
	if left := leaf.Left(); !left.Empty() {
		slog.Warn("the local authority may not vouch for all of this computer's names and addresses; phones cannot use these", "not", left)
	}
	if end := a.Expires(); end.Sub(m.Now()) < warnWithin {
		slog.Warn("the local authority ends; from then on no phone trusts this server, and every phone has to trust a new one", "on", end.Format(time.DateOnly))
	}
	before := leaf.Names()
	return &source{
		Certificates: leaf,
		host:         machine.Best(before),
		plain: reach.TrustPage(reach.Trust{Authority: a, Answers: leaf.Answers, Port: port,
			Best: func() string { return machine.Best(leaf.Names()) }}),
		more: "On the second, a phone learns to trust the first. Compare the fingerprint:\n" + a.Fingerprint() + "\n",
		changed: func() {
			now := leaf.Names()
			slog.Info("the certificate was renewed", "for", now)
			if gone := before.Without(now); !gone.Empty() {
				slog.Warn("this computer is no longer reached as before; what phones have not sent yet waits under the old address, so give it back or use a name", "gone", gone)
			}
			before = now
		},
	}, nil
}
