package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/spf13/cobra"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/strict"
	"hangtrue/server"
	"hangtrue/server/folder"
)

func (m Main) settle() *cobra.Command {
	s := settling{Main: m}
	cmd := &cobra.Command{
		Use:   "settle PLAN",
		Short: "Open a job with a plan, or settle a changed plan on a job",
		Example: `  hangtrue settle plan.json                          open a job with this plan
  hangtrue settle plan.json --job ID --dry-run       what would change, and what has to be looked at again
  hangtrue settle plan.json --job ID --reason "..."  settle it as the job's next revision`,
		Long: `It talks to a running hangtrue serve on this computer, as a lead's device does.
Recorded steps stay. Those that rested on what the new revision changes have to
be looked at again, and only those; --dry-run lists them first.

Exit code 0: settled, or shown. 2: the plan is unsound or the server refused it.`,
		Args: want(1, "one plan"),
		RunE: func(cmd *cobra.Command, args []string) error { return s.run(cmd.Context(), args[0]) },
	}
	cmd.Flags().StringVar(&s.job, "job", "", "`ID` of the job to settle it on; a new job if left out")
	cmd.Flags().StringVar(&s.reason, "reason", "", "`why` the plan changed; it stays in the record")
	cmd.Flags().StringVar(&s.who, "who", "lead", "as you are `called` on the job")
	cmd.Flags().StringVar(&s.server, "server", "http://127.0.0.1:8470", "`address` of the running server")
	cmd.Flags().StringVar(&s.data, "data", "", "`folder` the server's jobs are in, to be let in where it is --locked")
	cmd.Flags().BoolVar(&s.dry, "dry-run", false, "show what would change, settle nothing")
	return cmd
}

// settling is one run of the command.
type settling struct {
	Main
	job, reason, who, server, data string
	dry                            bool

	device string // each run is one of its own
	client *http.Client
	paired bool
}

func (s *settling) run(ctx context.Context, path string) error {
	if err := s.begin(); err != nil {
		return err
	}
	defer s.leave()
	document, err := s.read(path, strict.MaxSize)
	if err != nil {
		return err
	}
	p, err := plan.Decode(document)
	if err != nil {
		return inFile(path, err)
	}
	state, err := s.state(ctx, p)
	if err != nil {
		return err
	}
	entries, err := s.entries(state, p, document)
	if err != nil {
		return err
	}
	s.changes(state, p)
	if s.dry {
		fmt.Fprintln(s.Stdout, "Nothing was settled.")
		return nil
	}
	return s.push(ctx, state, entries)
}

// begin makes it a device of its own, with a place for a cookie.
func (s *settling) begin() error {
	jar, err := cookiejar.New(nil)
	s.device, s.client = uuid.NewString(), &http.Client{Jar: jar}
	return err
}

// state is the job as the server has it, or an empty one.
func (s *settling) state(ctx context.Context, p *plan.Plan) (*checklist.State, error) {
	if s.job == "" {
		id, err := uuid.NewV7()
		if err != nil {
			return nil, err
		}
		s.job = id.String()
		if s.reason == "" {
			s.reason = "First plan."
		}
		return checklist.NewState(checklist.Loudspeakers, s.job), nil
	}
	if s.reason == "" && !s.dry {
		return nil, errors.New("say with --reason why the plan changed; it stays in the record")
	}
	if s.reason == "" {
		s.reason = "A trial."
	}
	state := checklist.NewState(checklist.Loudspeakers, s.job)
	for {
		var page struct {
			Head    int64              `json:"head"`
			Records []checklist.Record `json:"records"`
		}
		if err := s.call(ctx, http.MethodGet, fmt.Sprintf("/api/jobs/%s/records?after=%d", s.job, state.Head), nil, &page); err != nil {
			return nil, err
		}
		for _, r := range page.Records {
			state.Fold(r)
		}
		if state.Head >= page.Head || len(page.Records) == 0 {
			return state, nil
		}
	}
}

// entries open the job if it is new, and settle the plan.
func (s settling) entries(state *checklist.State, p *plan.Plan, document []byte) ([]checklist.Entry, error) {
	bodies := []struct {
		kind checklist.Kind
		body any
	}{{checklist.PlanSettled, checklist.NewSettlement(state.Revision()+1, s.reason, document)}}
	if state.Title == "" {
		bodies = append(bodies[:0:0], struct {
			kind checklist.Kind
			body any
		}{checklist.JobOpened, checklist.Opening{Title: p.Title}}, bodies[0])
	}
	var entries []checklist.Entry
	for i, b := range bodies {
		id, err := uuid.NewV7()
		if err != nil {
			return nil, err
		}
		e, err := checklist.NewEntry(checklist.Entry{
			ID: id.String(), Job: s.job, Device: s.device, Number: int64(i + 1), Seen: state.Head, Who: s.who, Role: checklist.Lead,
			Clock: s.Now().UTC().Format("2006-01-02T15:04:05.000Z"), Plan: state.Revision(), Kind: b.kind,
		}, b.body)
		if err != nil {
			return nil, err
		}
		entries = append(entries, e)
	}
	return entries, nil
}

// changes tells what a revision changes in the plan and which recorded steps it
// makes stale.
func (s settling) changes(state *checklist.State, p *plan.Plan) {
	if state.Plan() == nil {
		return
	}
	changes := plan.Diff(state.Plan(), p)
	if len(changes) == 0 {
		fmt.Fprintln(s.Stdout, "The plan is the one in force.")
	}
	for _, c := range changes {
		fmt.Fprintln(s.Stdout, c.String())
	}
	for _, k := range state.StaleAfter(p) {
		name := state.Template.Step(k.Step).Title
		if k.Mount != "" {
			name = k.Mount + " " + name
		}
		fmt.Fprintf(s.Stdout, "To be looked at again: %s\n", name)
	}
}

func (s *settling) push(ctx context.Context, state *checklist.State, entries []checklist.Entry) error {
	var texts struct {
		Entries []string `json:"entries"`
	}
	for _, e := range entries {
		texts.Entries = append(texts.Entries, string(e.Bytes()))
	}
	var got struct {
		Answers []server.Answer `json:"answers"`
	}
	if err := s.call(ctx, http.MethodPost, "/api/jobs/"+s.job+"/entries", texts, &got); err != nil {
		return err
	}
	for _, a := range got.Answers {
		switch {
		case a.Stray != "":
			return errors.New("the server could not take it: " + a.Stray)
		case a.Record == nil:
			return errors.New("the server did not take it; try again")
		case !a.Record.Accepted:
			return errors.New("the server refused it: " + a.Record.Reason)
		}
	}
	fmt.Fprintf(s.Stdout, "Settled as revision %d.\n%s/jobs/%s\n", state.Revision()+1, strings.TrimRight(s.server, "/"), s.job)
	return nil
}

// call sends a request to the server and decodes its answer; what the server
// refuses comes back as its own sentence. Where the server lets nobody in unpaired,
// it pairs itself with a code out of the data folder.
func (s *settling) call(ctx context.Context, method, path string, body, into any) error {
	err := s.send(ctx, method, path, body, into)
	if !errors.Is(err, errNotPaired) || s.paired {
		return err
	}
	book, bookErr := s.book(s.data)
	if bookErr != nil {
		return fmt.Errorf("%w; say with --data where its jobs are, to be let in (%w)", err, bookErr)
	}
	// Whoever gets a code can pair with it: it is sent to the folder's own server alone.
	at, addressErr := url.Parse(s.server)
	dir, dirErr := s.dataFolder(s.data)
	if err := errors.Join(addressErr, dirErr); err != nil {
		return err
	}
	if at.Scheme != "http" || !folder.Served(dir, at.Host) {
		return fmt.Errorf("%w; --data has to be this server's folder, and --server the address that it printed for this computer", err)
	}
	code, bookErr := book.OpenCode(checklist.Lead)
	if bookErr != nil {
		return bookErr
	}
	var ignored struct{}
	if err := s.send(ctx, http.MethodPost, "/api/pair", map[string]string{"code": code.Long, "device": s.device, "who": s.who}, &ignored); err != nil {
		return fmt.Errorf("%w; --data has to be this server's folder", err)
	}
	s.paired = true
	return s.send(ctx, method, path, body, into)
}

// leave ends the pairing that call made, if it made one.
func (s *settling) leave() {
	if !s.paired {
		return
	}
	var ignored struct{}
	if err := s.send(context.Background(), http.MethodPost, "/api/unpair", map[string]string{"data": "keep"}, &ignored); err != nil {
		fmt.Fprintf(s.Stderr, "hangtrue: device %s, which this command was, is still paired: hangtrue devices revoke ends it\n", s.device)
	}
}

var errNotPaired = errors.New("the server asks this computer to be paired too")

func (s *settling) send(ctx context.Context, method, path string, body, into any) error {
	var in io.Reader
	if body != nil {
		data, err := json.Marshal(body)
		if err != nil {
			return err
		}
		in = bytes.NewReader(data)
	}
	ctx, cancel := context.WithTimeout(ctx, 30*time.Second)
	defer cancel()
	request, err := http.NewRequestWithContext(ctx, method, strings.TrimRight(s.server, "/")+path, in)
	if err != nil {
		return fmt.Errorf("--server: %w", err)
	}
	request.Header.Set("Content-Type", "application/json")
	answer, err := s.client.Do(request)
	if err != nil {
		return fmt.Errorf("no server answers at %s; start it with hangtrue serve", s.server)
	}
	defer answer.Body.Close()
	if answer.StatusCode == http.StatusUnauthorized {
		return errNotPaired
	}
	if answer.StatusCode != http.StatusOK {
		var problem struct{ Title, Detail string }
		if json.NewDecoder(io.LimitReader(answer.Body, 1<<16)).Decode(&problem) != nil || problem.Title == "" {
			return fmt.Errorf("the server answered %s", answer.Status)
		}
		return fmt.Errorf("%s %s", strings.TrimRight(problem.Title, ".")+":", problem.Detail)
	}
	content := io.LimitReader(answer.Body, 1<<28)
	if file, ok := into.(*[]byte); ok { // which is wanted as it is
		*file, err = io.ReadAll(content)
		return err
	}
	return json.NewDecoder(content).Decode(into)
}
