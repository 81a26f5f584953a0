package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"hangtrue/checklist"
	"hangtrue/pwa"
	"hangtrue/server"
	"hangtrue/server/care"
	"hangtrue/server/folder"
	"hangtrue/server/pairing"
	"hangtrue/testdata/demo"
)

// stopWithin is how long requests that are running get when the program is told to stop.
const stopWithin = 5 * time.Second

// serveFlags are the flags of serve.
type serveFlags struct {
	data, addr string
	demo       bool
	locked     bool
	network
}

func (m Main) serve() *cobra.Command {
	var f serveFlags
	cmd := &cobra.Command{
		Use:   "serve",
		Short: "Keep jobs and show them in a browser",
		Example: `  hangtrue serve                     keep jobs in your own data folder
  hangtrue serve --demo              the same, with an invented job to look at
  hangtrue serve --data /srv/jobs    keep them in this folder
  hangtrue serve --lan               let phones in the network in, once they are paired`,
		Long: `The first line it prints is the address to open on this computer. It listens on
this computer only, unless --lan or --addr says otherwise; then phones reach it over
HTTPS at the next line's address, and have to be paired: hangtrue pair shows a code.
Whoever uses this computer needs none, unless --locked is set. Stop it with Ctrl-C.

Jobs are kept in the folder that --data names, else in $STATE_DIRECTORY, else in
$XDG_DATA_HOME/hangtrue, else in ~/.local/share/hangtrue. hangtrue backup makes
backups of it meanwhile; keys/ in it holds the secret that signs your records.`,
		Args: want(0, "no file"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := f.network.settle(&f.addr, cmd.Flags().Changed); err != nil {
				return err
			}
			dir, err := m.dataFolder(f.data)
			if err != nil {
				return err
			}
			return m.runServe(cmd.Context(), dir, f)
		},
	}
	cmd.Flags().StringVar(&f.data, "data", "", "`folder` to keep jobs in")
	cmd.Flags().StringVar(&f.addr, "addr", thisComputer, "`address` and port to listen on")
	cmd.Flags().BoolVar(&f.demo, "demo", false, "put the demo job in, if it is not there")
	cmd.Flags().BoolVar(&f.locked, "locked", false, "ask this computer's own browsers and commands to be paired too")
	f.network.flags(cmd.Flags())
	return cmd
}

// dataFolder follows the XDG Base Directory Specification 0.8: a relative value counts as not set.
func (m Main) dataFolder(flag string) (string, error) {
	if flag != "" {
		return flag, nil
	}
	if dir := m.Env("STATE_DIRECTORY"); filepath.IsAbs(dir) {
		return dir, nil
	}
	if dir := m.Env("XDG_DATA_HOME"); filepath.IsAbs(dir) {
		return filepath.Join(dir, "hangtrue"), nil
	}
	if dir := m.Env("HOME"); filepath.IsAbs(dir) {
		return filepath.Join(dir, ".local", "share", "hangtrue"), nil
	}
	return "", errors.New("no home folder is known; say where to keep jobs with --data")
}

func (m Main) runServe(ctx context.Context, dir string, o serveFlags) (err error) {
	slog.SetDefault(slog.New(slog.NewTextHandler(m.Stderr, &slog.HandlerOptions{ReplaceAttr: inUTC})))
	server.BoundMemory()
	static, err := m.Static()
	if errors.Is(err, pwa.ErrNotBuilt) {
		return errors.New("this program was built without the part that runs on phones: run go generate ./pwa, then build again")
	} else if err != nil {
		return err
	}
	// The port first: it fails at once, and a folder is not made for nothing.
	listener, err := listen("--addr", o.addr)
	if err != nil {
		return err
	}
	defer listener.Close()
	f, err := folder.Open(dir)
	if err != nil {
		return plainPathError(err)
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	if was := f.Store.Aside(); was != "" {
		slog.Info("the jobs were brought to this program's stored format; as they were they lie beside it, which an older program needs and nobody else", "beside", was)
	}
	keeper, err := server.NewKeeper(f.Store, f.Key, m.Now)
	if err != nil {
		return err
	}
	defer care.Attend(f, keeper)()
	if o.demo {
		if err := addDemo(keeper); err != nil {
			return err
		}
	}

	book, err := pairing.Open(dir, m.Now)
	if err != nil {
		return err
	}
	options := server.Options{Keeper: keeper, Static: static, Version: version(), Photos: f.Photos, Book: book, Locked: o.locked}
	own := listener.Addr().String()
	if o.secure {
		source, secured, closePlain, openErr := m.openNetwork(ctx, o.network, dir, listener)
		if openErr != nil {
			return openErr
		}
		defer func() { err = errors.Join(err, closePlain()) }()
		options.Answers, options.Address, options.Strict, listener = source.Answers, source.address, source.strict, secured
		own = source.own
		slog.Info("serving the network", "data", dir, "key", keeper.PublicKey())
	} else {
		fmt.Fprintf(m.Stdout, "http://%s/\n", listener.Addr())
		slog.Info("serving this computer only; phones cannot reach it", "data", dir, "key", keeper.PublicKey())
	}
	if err := book.Announce(options.Address); err != nil {
		return err
	}
	if err := f.Serves(own); err != nil {
		slog.Warn("where this server is --locked, this computer's commands are not let in", "cause", err)
	}
	if o.secure || o.locked {
		if err := m.greet(book); err != nil {
			return err
		}
	}
	app := server.New(options)
	served := make(chan error, 1)
	go func() { served <- app.Listener(listener) }()
	select {
	case err := <-served:
		return err
	case <-ctx.Done():
	}
	slog.Info("stopping; once more stops at once")
	// Shutdown may come before Listener has begun, and would then not end it.
	_ = listener.Close()
	if err := app.ShutdownWithTimeout(stopWithin); err != nil && !errors.Is(err, context.DeadlineExceeded) && !errors.Is(err, net.ErrClosed) {
		return err
	}
	return nil
}

// inUTC writes when something happened as every computer's log has it alike.
func inUTC(groups []string, a slog.Attr) slog.Attr {
	if len(groups) == 0 && a.Key == slog.TimeKey {
		a.Value = slog.TimeValue(a.Value.Time().UTC())
	}
	return a
}

// listen says in short why an address cannot be had.
func listen(flag, addr string) (net.Listener, error) {
	l, err := net.Listen("tcp", addr)
	if err != nil {
		var in *net.OpError
		if errors.As(err, &in) {
			err = in.Err
			var call *os.SyscallError
			if errors.As(err, &call) {
				err = call.Err
			}
		}
		return nil, fmt.Errorf("%s %s: %w", flag, addr, err)
	}
	return l, nil
}

// The demo job and the device that made it. They are the same on every computer,
// so that putting it in twice changes nothing.
const (
	demoJob    = "019b0000-0000-7000-8000-00000000da00"
	demoDevice = "019b0000-0000-7000-8000-00000000dd00"
	demoClock  = "2030-01-31T09:15:00.000Z"
)

func addDemo(k *server.Keeper) error {
	var entries [][]byte
	for i, e := range []struct {
		kind checklist.Kind
		body any
	}{
		{checklist.JobOpened, checklist.Opening{Title: "Attic lounge (demo)"}},
		{checklist.PlanSettled, checklist.NewSettlement(1, "The plan as it was drawn.", demo.Plan)},
	} {
		entry, err := checklist.NewEntry(checklist.Entry{
			ID: fmt.Sprintf("019b0000-0000-7000-9000-%012d", i+1), Job: demoJob, Device: demoDevice, Number: int64(i + 1), Seen: int64(i),
			Who: "lead", Role: checklist.Lead, Clock: demoClock, Kind: e.kind,
		}, e.body)
		if err != nil {
			return err
		}
		entries = append(entries, entry.Bytes())
	}
	if line, err := k.Line(demoJob); err == nil && line.Head >= int64(len(entries)) {
		return nil // it is there, perhaps from an edition with another plan
	}
	_, answers, err := k.Push(demoJob, entries)
	if err != nil {
		return err
	}
	for _, a := range answers {
		if a.Record == nil || !a.Record.Accepted {
			return fmt.Errorf("the demo job could not be put in: %+v", a)
		}
	}
	return nil
}
