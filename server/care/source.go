package care

import (
	"bytes"
	"context"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"sync"
	"time"

	"hangtrue/server"
	"hangtrue/server/bolt"
	"hangtrue/server/folder"
)

// Where a server gives a copy of its store, and takes a record, to who may read its folder.
const (
	copyPath   = "/copy"
	importPath = "/import"
)

// digestHeader has the SHA-256 of an answer's body (RFC 9530).
const digestHeader = "Content-Digest"

func digest(sum []byte) string { return "sha-256=:" + base64.StdEncoding.EncodeToString(sum) + ":" }

// Attend looks after a folder while a server uses it: it logs what is damaged, and
// answers on a port of its own of this computer when it is asked for a copy of the
// store, or to take a record over. Only who can read the word that
// [folder.Folder.Announce] wrote into the folder gets it. A copy is whole on the disk
// before its first byte is sent, so that a slow reader holds up nobody.
func Attend(f *folder.Folder, k *server.Keeper) (stop func()) {
	for _, d := range f.Damage {
		slog.Error("something kept here is damaged; the rest is served. hangtrue doctor tells all of it, and a backup has what it was", "what", d.Error())
	}
	stop, err := attend(f, k)
	if err != nil {
		slog.Warn("hangtrue backup and hangtrue import cannot ask this server", "cause", err)
		return func() {}
	}
	return stop
}

func attend(f *folder.Folder, k *server.Keeper) (stop func(), err error) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	serving, err := f.Announce(listener.Addr().String())
	if err != nil {
		return nil, errors.Join(err, listener.Close())
	}
	answering := &http.Server{Handler: attendant(f, k, serving.Token), ReadTimeout: askedWithin, ErrorLog: slog.NewLogLogger(slog.Default().Handler(), slog.LevelWarn)}
	done := make(chan struct{})
	go func() {
		defer close(done)
		_ = answering.Serve(listener) // until it is closed
	}()
	return func() {
		_ = answering.Close()
		<-done
	}, nil
}

// askedWithin is how long a request may take to arrive, a record of [seal.MaxFile]
// from this same computer among them.
const askedWithin = 30 * time.Second

// attendant answers who knows the token.
func attendant(f *folder.Folder, k *server.Keeper, token string) http.Handler {
	c, in := &copier{folder: f}, &importer{folder: f, keeper: k}
	answers := map[string]http.HandlerFunc{copyPath: c.serve, importPath: in.serve}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		word := []byte(r.Header.Get("Authorization"))
		answer, ok := answers[r.URL.Path]
		if !ok || r.Method != http.MethodPost || subtle.ConstantTimeCompare(word, []byte("Bearer "+token)) != 1 {
			http.NotFound(w, r)
			return
		}
		answer(w, r)
	})
}

// a copier hands out copies of a folder's store.
type copier struct {
	folder *folder.Folder
	one    sync.Mutex // copy at a time
}

func (c *copier) serve(w http.ResponseWriter, _ *http.Request) {
	file, m, err := c.copy()
	if err != nil {
		slog.Error("a copy for a backup could not be made", "cause", err)
		http.Error(w, afterPrefix(err), http.StatusInsufficientStorage)
		return
	}
	defer file.Close()
	w.Header().Set("Content-Type", "application/octet-stream")
	w.Header().Set("Content-Length", strconv.FormatInt(m.size, 10))
	w.Header().Set(digestHeader, digest(m.hash.Sum(nil)))
	_, _ = io.Copy(w, file) // who does not get all of it sees so by the digest
}

func (c *copier) copy() (*os.File, *measured, error) {
	c.one.Lock()
	defer c.one.Unlock()
	file, err := c.folder.Copy()
	if err != nil {
		return nil, nil, err
	}
	m := measure(file)
	if _, err = io.Copy(io.Discard, m); err == nil {
		_, err = file.Seek(0, io.SeekStart)
	}
	if err != nil {
		return nil, nil, errors.Join(err, file.Close())
	}
	return file, m, nil
}

// Source says how a store was come by.
type Source string

// fromFolder is a store that nobody else uses.
const fromFolder Source = "read directly: no server uses the folder"

func fromServer(address string) Source {
	return Source("from a copy that the server at " + address + " made: it uses the folder and goes on")
}

// hasStore tells whether a folder has jobs.
func hasStore(dir string) error {
	switch info, err := os.Stat(filepath.Join(dir, folder.JobsFile)); {
	case errors.Is(err, os.ErrNotExist):
		return fmt.Errorf("%s: %w", dir, ErrNoJobs)
	case err != nil:
		return err
	case !info.Mode().IsRegular():
		return fmt.Errorf("%s: %w: %s is no file", dir, ErrNoJobs, folder.JobsFile)
	}
	return nil
}

// copyStore copies a folder's store, as it stands at one moment, to a new file.
func copyStore(ctx context.Context, dir, to string) (Source, error) {
	if err := hasStore(dir); err != nil {
		return "", err
	}
	err := bolt.Copy(filepath.Join(dir, folder.JobsFile), to)
	if !errors.Is(err, bolt.ErrInUse) {
		return fromFolder, err
	}
	return askServer(ctx, dir, to)
}

// ask asks the server that uses the folder.
func ask(ctx context.Context, dir, path string, body io.Reader) (s folder.Serving, answer *http.Response, err error) {
	if s, err = folder.ReadServing(dir); err != nil {
		return s, nil, fmt.Errorf("%s: %w, and %v. Stop it, or try again in a moment", dir, bolt.ErrInUse, err)
	}
	if host, _, err := net.SplitHostPort(s.Address); err != nil || !net.ParseIP(host).IsLoopback() {
		return s, nil, fmt.Errorf("%s: the server's address %.60q is not on this computer", dir, s.Address)
	}
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, "http://"+s.Address+path, body)
	if err != nil {
		return s, nil, err
	}
	request.Header.Set("Authorization", "Bearer "+s.Token)
	client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}} // and no proxy
	if answer, err = client.Do(request); err != nil {
		return s, nil, fmt.Errorf("%s: %w, and does not answer at %s. Stop it, or try again in a moment", dir, bolt.ErrInUse, s.Address)
	}
	return s, answer, nil
}

// why is what the server says of something it did not do.
func why(answer *http.Response) string {
	sentences, _ := io.ReadAll(io.LimitReader(answer.Body, 1<<20)) // a record may have many findings
	return string(bytes.TrimSpace(sentences))
}

// askServer gets a copy from the server that uses the folder.
func askServer(ctx context.Context, dir, to string) (Source, error) {
	s, answer, err := ask(ctx, dir, copyPath, http.NoBody)
	if err != nil {
		return "", err
	}
	defer answer.Body.Close()
	if answer.StatusCode != http.StatusOK {
		return "", fmt.Errorf("the server at %s made no copy: %s", s.Address, why(answer))
	}
	f, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return "", err
	}
	sum := sha256.New()
	_, err = io.Copy(io.MultiWriter(f, sum), answer.Body)
	if err := errors.Join(err, f.Sync(), f.Close()); err != nil {
		return "", fmt.Errorf("the copy from the server at %s did not arrive: %w", s.Address, err)
	}
	if answer.Header.Get(digestHeader) != digest(sum.Sum(nil)) {
		return "", fmt.Errorf("the copy from the server at %s did not arrive as it was sent", s.Address)
	}
	return fromServer(s.Address), nil
}
