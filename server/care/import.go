package care

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"hangtrue/checklist/seal"
	"hangtrue/server"
	"hangtrue/server/bolt"
	"hangtrue/server/folder"
)

// An Import is a record file that is to become a job.
type Import struct {
	Record []byte
	Key    string // the public key that it is known to be sealed with; empty: the one it names itself
	Data   string // the folder to put the job into
	Now    func() time.Time
}

// Do puts the record into the folder, or has the server that uses it do so. Nothing
// is added unless every entry is what was sealed and decided by steps that this program
// knows, or when the folder has the job already; see [server.Keeper.Import] for what else it refuses.
func (i Import) Do(ctx context.Context) (server.Imported, error) {
	file, err := i.verified()
	if err != nil {
		return server.Imported{}, err
	}
	f, err := folder.Begin(i.Data)
	if errors.Is(err, bolt.ErrInUse) {
		return i.ask(ctx)
	} else if err != nil {
		return server.Imported{}, err
	}
	k, err := server.NewKeeper(f.Store, f.Key, i.Now)
	if err != nil {
		return server.Imported{}, errors.Join(err, f.Close())
	}
	in, err := i.into(f, k, file)
	return in, errors.Join(err, f.Close())
}

// Unsound is returned for a record in which something is not what was sealed.
type Unsound []seal.Finding

func (u Unsound) Error() string {
	lines := []string{"the record is not intact, so that nothing was added:"}
	for _, f := range u {
		lines = append(lines, f.Text)
	}
	return strings.Join(lines, "\n")
}

func (i Import) verified() (seal.File, error) {
	file, err := seal.Read(i.Record)
	if err != nil {
		return file, err
	}
	r := file.Verify(i.Key)
	if !r.Intact() {
		return file, Unsound(r.Findings)
	}
	if len(r.Unchecked) > 0 { // what this program would decide next would go back behind it
		return file, fmt.Errorf("the record was decided by edition %d of the steps, which this program does not know, so that nothing was added. Import it with a newer hangtrue", r.Unchecked[len(r.Unchecked)-1].Edition)
	}
	return file, nil
}

// into keeps the file as it came, then makes the job of it: a job without its file
// would have lost the other server's seals, a file without its job is nothing.
func (i Import) into(f *folder.Folder, k *server.Keeper, file seal.File) (server.Imported, error) {
	if _, err := k.Line(file.Job); err == nil {
		return k.Import(file)
	}
	path := filepath.Join(f.Dir(), folder.ImportsDir, file.Job+".json")
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return server.Imported{}, fmt.Errorf("folder: %w", err)
	}
	if err := folder.WriteWhole(path, i.Record); err != nil {
		return server.Imported{}, fmt.Errorf("folder: %w", err)
	}
	in, err := k.Import(file)
	if err != nil {
		err = errors.Join(err, os.Remove(path))
	}
	return in, err
}

// ask has the server that uses the folder do it.
func (i Import) ask(ctx context.Context) (in server.Imported, err error) {
	_, answer, err := ask(ctx, i.Data, importPath+"?key="+url.QueryEscape(i.Key), bytes.NewReader(i.Record))
	if err != nil {
		return in, err
	}
	defer answer.Body.Close()
	if answer.StatusCode != http.StatusOK {
		return in, errors.New(why(answer))
	}
	return in, json.NewDecoder(answer.Body).Decode(&in)
}

// an importer takes records over while its server goes on.
type importer struct {
	folder *folder.Folder
	keeper *server.Keeper
	one    sync.Mutex // import at a time, so that none takes another's file for its own
}

func (t *importer) serve(w http.ResponseWriter, r *http.Request) {
	data, err := io.ReadAll(http.MaxBytesReader(w, r.Body, seal.MaxFile))
	if err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	in, err := t.take(Import{Record: data, Key: r.URL.Query().Get("key")})
	if err != nil {
		http.Error(w, err.Error(), http.StatusUnprocessableEntity)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	_ = json.NewEncoder(w).Encode(in) // who does not get it asks again
}

func (t *importer) take(i Import) (server.Imported, error) {
	t.one.Lock()
	defer t.one.Unlock()
	file, err := i.verified()
	if err != nil {
		return server.Imported{}, err
	}
	return i.into(t.folder, t.keeper, file)
}
