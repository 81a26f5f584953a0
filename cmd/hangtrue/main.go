package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"strings"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"hangtrue/pwa"
	"hangtrue/server"
	"hangtrue/server/reach"
)

func main() {
	mainWith(func() (server.Static, error) { return pwa.Files() })
}

func mainWith(static func() (server.Static, error)) {
	// The first signal stops cleanly. Signals do what they always do before anything
	// stops, so that a second one ends the program at once.
	ctx, stop := context.WithCancel(context.Background())
	signals := make(chan os.Signal, 1)
	signal.Notify(signals, os.Interrupt, syscall.SIGTERM)
	go func() {
		<-signals
		signal.Stop(signals)
		stop()
	}()
	os.Exit(Main{
		Stdin: os.Stdin, Stdout: os.Stdout, Stderr: os.Stderr, Env: os.Getenv, Now: time.Now,
		Static: static, Terminal: isTerminal(os.Stderr),
	}.Run(ctx, os.Args[1:]))
}

// Main is the program with everything it takes from outside, so that a test can
// start it whole.
type Main struct {
	Stdin          io.Reader
	Stdout, Stderr io.Writer
	Env            func(string) string
	Now            func() time.Time
	Static         func() (server.Static, error)
	// Terminal: a person reads Stderr, and nothing keeps it. Codes are shown there.
	Terminal bool
	// Machine is this computer in its network; the zero value asks the operating system.
	Machine reach.Machine
	// Look says when to look at certificates and at this computer's names and
	// addresses; every minute, where it is nil.
	Look <-chan time.Time
}

// Exit codes.
const (
	exitGood = 0
	exitOff  = 1 // the work was done and something is not as it should be
	exitBad  = 2 // the work could not be done
	exitPart = 3 // all that was looked at is as it should be, and something could not be
)

// errOff ends a command whose output has said what is not as it should be.
var errOff = errors.New("something is not as it should be")

// errPart ends a command whose output has said what could not be looked at.
var errPart = errors.New("not everything could be checked")

// Run runs one command line and gives the exit code.
func (m Main) Run(ctx context.Context, args []string) int {
	root := m.root()
	root.SetArgs(append([]string{}, args...)) // cobra takes the process's own for nil
	root.SetOut(m.Stdout)
	root.SetErr(m.Stderr)
	switch err := root.ExecuteContext(ctx); {
	case err == nil:
		return exitGood
	case errors.Is(err, errOff):
		return exitOff
	case errors.Is(err, errPart):
		return exitPart
	default:
		for line := range strings.Lines(err.Error()) { // one problem a line
			fmt.Fprintln(m.Stderr, "hangtrue: "+withoutPackage(strings.TrimRight(line, "\n")))
		}
		return exitBad
	}
}

func (m Main) root() *cobra.Command {
	root := &cobra.Command{
		Use:   "hangtrue",
		Short: "Hang and wire loudspeakers where the plan says, and keep a record that can be trusted",
		Example: `  hangtrue serve --demo                          try it: open the address it prints
  hangtrue settle plan.json                      open a job with your own plan
  hangtrue check plan.json                       is the plan sound?
  hangtrue check plan.json --measured read.json  is what hangs where the plan says?
  hangtrue verify record.json                    is this record what was signed off?`,
		Version:       version(),
		SilenceErrors: true,
		SilenceUsage:  true,
		Args:          cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return fmt.Errorf("there is no command %q; hangtrue --help lists them", args[0])
			}
			return cmd.Help()
		},
		CompletionOptions: cobra.CompletionOptions{DisableDefaultCmd: true},
	}
	root.SetHelpTemplate(helpTemplate)
	root.SetVersionTemplate("hangtrue {{.Version}}\n")
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		return fmt.Errorf("%w; %s --help lists what it takes", err, cmd.CommandPath())
	})
	root.AddCommand(m.serve(), m.settle(), m.check(), m.polarity(), m.paper(), m.verify(), m.export(), m.importing(), m.backup(), m.restore(), m.doctor(), m.pair(), m.devices())
	root.InitDefaultHelpCmd()
	for _, cmd := range append(root.Commands(), root) {
		cmd.Hidden = cmd.Name() == "help" // it works, and --help is the one to show
		cmd.InitDefaultHelpFlag()
		cmd.Flags().Lookup("help").Usage = "show this"
	}
	root.InitDefaultVersionFlag()
	root.Flags().Lookup("version").Usage = "show which edition this is"
	return root
}

// helpTemplate puts examples first: most who ask want to see how it is typed.
const helpTemplate = `{{.Short}}.

{{.Example}}
{{if .HasAvailableSubCommands}}
Commands:{{range .Commands}}{{if .IsAvailableCommand}}
  {{rpad .Name .NamePadding}} {{.Short}}{{end}}{{end}}
{{end}}{{if .Long}}
{{.Long}}
{{end}}{{if .HasAvailableLocalFlags}}
Flags:
{{.LocalFlags.FlagUsages | trimTrailingWhitespaces}}
{{end}}`

// version is the edition of the binary: the module's, or what it was built from.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok || info.Main.Version == "" {
		return "(unknown)"
	}
	return info.Main.Version
}

// want makes a positional argument's absence one plain sentence.
func want(n int, what string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) != n {
			return fmt.Errorf("%s wants %s; %s --help shows how", cmd.CommandPath(), what, cmd.CommandPath())
		}
		return nil
	}
}

// read reads a file whole, or stdin for "-", up to a bound.
func (m Main) read(path string, most int64) ([]byte, error) {
	in := m.Stdin
	if path != "-" {
		f, err := os.Open(path)
		if err != nil {
			return nil, plainPathError(err)
		}
		defer f.Close()
		in = f
	}
	data, err := io.ReadAll(io.LimitReader(in, most+1))
	if err != nil {
		return nil, plainPathError(err)
	}
	if int64(len(data)) > most {
		return nil, fmt.Errorf("%s: it has more than %d bytes", path, most)
	}
	return data, nil
}

// withoutPackage takes away the name of the package that an error comes from, which is
// for programmers alone.
func withoutPackage(line string) string {
	for _, name := range []string{"authority", "bolt", "folder", "pairing", "photos", "reach", "seal", "server", "store"} {
		if rest, ok := strings.CutPrefix(line, name+": "); ok {
			return rest
		}
	}
	return line
}

// plainPathError says what is wrong with a file in the order that people read.
func plainPathError(err error) error {
	var p *os.PathError
	if errors.As(err, &p) {
		return fmt.Errorf("%s: %w", p.Path, p.Err)
	}
	return err
}
