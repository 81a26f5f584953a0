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

	"hangtrue/server/bolt"
	"hangtrue/server/folder"
)

// copyPath is where a server gives a copy of its store to who may read its folder.
const copyPath = "/copy"

// digestHeader has the SHA-256 of an answer's body (RFC 9530).
const digestHeader = "Content-Digest"

func digest(sum []byte) string { return "sha-256=:" + base64.StdEncoding.EncodeToString(sum) + ":" }

// Attend looks after a folder while a server uses it: it logs what is damaged, and
// answers on a port of its own of this computer when it is asked for a copy of the
// store. Only who can read the word that [folder.Folder.Announce] wrote into the
// folder gets one. The copy is whole on the disk before its first byte is sent, so
// that a slow reader holds up nobody.
func Attend(f *folder.Folder) (stop func()) {
	for _, d := range f.Damage {
		slog.Error("something kept here is damaged; the rest is served. hangtrue doctor tells all of it, and a backup has what it was", "what", d.Error())
	}
	stop, err := attend(f)
	if err != nil {
		slog.Warn("hangtrue backup cannot ask this server for a copy", "cause", err)
		return func() {}
	}
	return stop
}

func attend(f *folder.Folder) (stop func(), err error) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	serving, err := f.Announce(listener.Addr().String())
	if err != nil {
		return nil, errors.Join(err, listener.Close())
	}
	server := &http.Server{Handler: &copier{folder: f, token: serving.Token}, ReadTimeout: copyAsked, ErrorLog: slog.NewLogLogger(slog.Default().Handler(), slog.LevelWarn)}
	done := make(chan struct{})
	go func() {
		defer close(done)
		_ = server.Serve(listener) // until it is closed
	}()
	return func() {
		_ = server.Close()
		<-done
	}, nil
}

// copyAsked is how long a request for a copy may take to arrive.
const copyAsked = 10 * time.Second

// a copier hands out copies of a folder's store.
type copier struct {
	folder *folder.Folder
	token  string
	one    sync.Mutex // copy at a time
}

func (c *copier) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	word := []byte(r.Header.Get("Authorization"))
	if r.Method != http.MethodPost || r.URL.Path != copyPath || subtle.ConstantTimeCompare(word, []byte("Bearer "+c.token)) != 1 {
		http.NotFound(w, r)
		return
	}
	file, m, err := c.copy()
	if err != nil {
		slog.Error("a copy for a backup could not be made", "cause", err)
		http.Error(w, err.Error(), http.StatusInsufficientStorage)
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
	if _, err := os.Stat(filepath.Join(dir, folder.JobsFile)); errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("%s: %w", dir, ErrNoJobs)
	} else if err != nil {
		return err
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

// askServer gets a copy from the server that uses the folder.
func askServer(ctx context.Context, dir, to string) (Source, error) {
	s, err := folder.ReadServing(dir)
	if err != nil {
		return "", fmt.Errorf("%s: %w, and %v. Stop it, or try again in a moment", dir, bolt.ErrInUse, err)
	}
	if host, _, err := net.SplitHostPort(s.Address); err != nil || !net.ParseIP(host).IsLoopback() {
		return "", fmt.Errorf("%s: the server's address %.60q is not on this computer", dir, s.Address)
	}
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, "http://"+s.Address+copyPath, http.NoBody)
	if err != nil {
		return "", err
	}
	request.Header.Set("Authorization", "Bearer "+s.Token)
	client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}} // and no proxy
	answer, err := client.Do(request)
	if err != nil {
		return "", fmt.Errorf("%s: %w, and does not answer at %s. Stop it, or try again in a moment", dir, bolt.ErrInUse, s.Address)
	}
	defer answer.Body.Close()
	if answer.StatusCode != http.StatusOK {
		problem, _ := io.ReadAll(io.LimitReader(answer.Body, 2000))
		return "", fmt.Errorf("the server at %s made no copy: %s", s.Address, bytes.TrimSpace(problem))
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
