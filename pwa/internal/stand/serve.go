package stand

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"sync"

	"hangtrue/checklist"
	"hangtrue/checklist/rehearsal"
	"hangtrue/pwa"
	"hangtrue/pwa/pages"
)

// A Server plays the server for some jobs. It is safe for concurrent use.
type Server struct {
	mu    sync.Mutex
	sites []*rehearsal.Site
	index *pwa.Index
	// Strays are the entries that belonged to no job.
	Strays []string
}

// Serve plays the server for the sites. The index may be nil where no page is wanted.
func Serve(index *pwa.Index, sites ...*rehearsal.Site) *Server {
	return &Server{sites: sites, index: index}
}

func (s *Server) site(id string) *rehearsal.Site {
	for _, site := range s.sites {
		if site.Job == id {
			return site
		}
	}
	return nil
}

func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	s.mu.Lock()
	defer s.mu.Unlock()
	parts := strings.Split(strings.Trim(r.URL.Path, "/"), "/")
	switch {
	case r.URL.Path == "/api/jobs":
		s.jobs(w)
	case len(parts) == 4 && parts[0] == "api" && parts[3] == "entries" && r.Method == http.MethodPost:
		s.push(w, r, parts[2])
	case len(parts) == 4 && parts[0] == "api" && parts[3] == "records":
		s.pull(w, r, parts[2])
	case s.index != nil && parts[0] != "api":
		s.file(w, r)
	default:
		http.NotFound(w, r)
	}
}

func reply(w http.ResponseWriter, v any) {
	w.Header().Set("Content-Type", "application/json")
	_ = json.NewEncoder(w).Encode(v) // the other end may be gone
}

func (s *Server) jobs(w http.ResponseWriter) {
	jobs := []any{}
	for _, site := range s.sites {
		if site.State.Head > 0 {
			jobs = append(jobs, map[string]any{"id": site.Job, "title": site.State.Title, "head": site.State.Head})
		}
	}
	reply(w, map[string]any{"jobs": jobs})
}

func (s *Server) push(w http.ResponseWriter, r *http.Request, job string) {
	var in struct {
		Entries []string `json:"entries"`
	}
	if err := json.NewDecoder(r.Body).Decode(&in); err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	site := s.site(job)
	answers := []any{}
	for _, text := range in.Entries {
		e, err := checklist.ParseEntry([]byte(text))
		switch {
		case err != nil || site == nil || e.Job != job:
			s.Strays = append(s.Strays, text)
			answers = append(answers, map[string]any{"id": e.ID, "stray": "it belongs to no job here", "missing": site == nil})
		case site.State.Head == 0 && e.Kind != checklist.JobOpened:
			answers = append(answers, map[string]any{"id": e.ID, "stray": "the job is not open", "missing": true})
		case known(site, e.ID) != nil:
			answers = append(answers, map[string]any{"id": e.ID, "record": known(site, e.ID)})
		case e.Number > site.State.LastNumber(e.Device)+1:
			answers = append(answers, map[string]any{"id": e.ID, "expected": site.State.LastNumber(e.Device) + 1})
		default:
			record := site.Push(e)
			answers = append(answers, map[string]any{"id": e.ID, "record": record})
		}
	}
	var head int64
	if site != nil {
		head = site.State.Head
	}
	reply(w, map[string]any{"head": head, "answers": answers})
}

func known(site *rehearsal.Site, id string) *checklist.Record {
	for i := range site.Records {
		if site.Records[i].Entry.ID == id {
			return &site.Records[i]
		}
	}
	return nil
}

func (s *Server) pull(w http.ResponseWriter, r *http.Request, job string) {
	site := s.site(job)
	after, err := strconv.Atoi(r.URL.Query().Get("after"))
	if site == nil || err != nil || after < 0 {
		http.NotFound(w, r)
		return
	}
	limit, err := strconv.Atoi(r.URL.Query().Get("limit"))
	if err != nil {
		limit = 100
	}
	from := min(after, len(site.Records))
	to := min(from+limit, len(site.Records))
	reply(w, map[string]any{"head": site.State.Head, "records": site.Records[from:to], "seals": []string{}})
}

func (s *Server) file(w http.ResponseWriter, r *http.Request) {
	f, ok := s.index.Lookup(r.URL.Path)
	if !ok {
		d := pages.Render(r.URL.EscapedPath(), source{s})
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		w.Header().Set("Cache-Control", "no-cache")
		w.WriteHeader(d.Status)
		_, _ = fmt.Fprint(w, d.Page(s.index.Assets()))
		return
	}
	body := f.Content
	for _, coding := range []string{"br", "gzip"} {
		if packed, ok := f.Encoded[coding]; ok && strings.Contains(r.Header.Get("Accept-Encoding"), coding) {
			w.Header().Set("Content-Encoding", coding)
			body = packed
			break
		}
	}
	w.Header().Set("Content-Type", f.Type)
	w.Header().Set("Vary", "Accept-Encoding")
	w.Header().Set("Cache-Control", "no-cache")
	if f.Immutable {
		w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	}
	_, _ = w.Write(body) // the other end may be gone
}

// source shows the sites on pages.
type source struct{ *Server }

func (s source) Jobs() []pages.JobLine {
	var lines []pages.JobLine
	for _, site := range s.sites {
		done, all := site.State.Progress()
		lines = append(lines, pages.JobLine{ID: site.Job, Title: site.State.Title, Head: site.State.Head, Done: done, All: all})
	}
	return lines
}

func (s source) Job(id string) (*pages.Job, bool) {
	if site := s.site(id); site != nil {
		return &pages.Job{State: site.State}, true
	}
	return nil, false
}

func (source) Device() pages.Device { return pages.Device{} }
