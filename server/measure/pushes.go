package main

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/gofiber/fiber/v2"
	"github.com/valyala/fasthttp"
	"go.etcd.io/bbolt"

	"hangtrue/checklist"
	"hangtrue/checklist/rehearsal"
	"hangtrue/checklist/seal"
	"hangtrue/pwa"
	"hangtrue/pwa/pages"
	"hangtrue/server"
	"hangtrue/server/bolt"
	"hangtrue/server/store"
	"hangtrue/server/together"
)

// a phone and the entries that it will push, made beforehand.
type phone struct {
	job, device string
	entries     []checklist.Entry
	pushes      [][]byte // of one entry each, as they are sent
	made        int64
}

// next makes the phone's next entry.
func (p *phone) next(kind checklist.Kind, body any) (checklist.Entry, error) {
	p.made++
	return checklist.NewEntry(checklist.Entry{
		ID: fmt.Sprintf("%s-%012x", p.device[:prefixLength], p.made), Job: p.job, Device: p.device, Number: p.made,
		Who: "lead", Role: checklist.Lead, Clock: rehearsal.Clock, Kind: kind,
	}, body)
}

// remarks makes so many more.
func (p *phone) remarks(count int) error {
	for range count {
		e, err := p.next(checklist.RemarkWritten, checklist.Remark{Text: "40 mm off plan, asked the lead, stays as it is"})
		if err != nil {
			return err
		}
		p.entries = append(p.entries, e)
	}
	return nil
}

// newPhones makes phones, each with its own job: first it is opened, then remarked on.
func newPhones(count, each int) ([]*phone, error) {
	phones := make([]*phone, count)
	for i := range phones {
		p := &phone{job: jobID(i), device: leadPhone}
		open, err := p.next(checklist.JobOpened, checklist.Opening{Title: fmt.Sprint("Attic lounge ", i)})
		if err != nil {
			return nil, err
		}
		p.entries = []checklist.Entry{open}
		if err := p.remarks(each); err != nil {
			return nil, err
		}
		for _, e := range p.entries {
			push, err := json.Marshal(map[string]any{"entries": []string{string(e.Bytes())}})
			if err != nil {
				return nil, err
			}
			p.pushes = append(p.pushes, push)
		}
		phones[i] = p
	}
	return phones, nil
}

// a way to make an entry durable: the phone's own of that index.
type way struct {
	name string
	push func(p *phone, i int) error
}

// measurePushes makes each measurement many times, in turn with those it is compared
// with. What else the machine does falls on neighbours alike, so that each round has a
// ratio of its own, and the middle one of many tells more than the ratio of the sums.
func measurePushes(o options) error {
	server.BoundMemory() // as the program does
	for text := range strings.SplitSeq(o.phones, ",") {
		count, err := strconv.Atoi(text)
		if err != nil || count < 1 {
			return fmt.Errorf("-phones has %q, wanted whole numbers such as 1,8,64", text)
		}
		if o.rounds < 1 {
			return fmt.Errorf("-rounds is %d, wanted 1 or more", o.rounds)
		}
		each := max(o.pushes/64, o.pushes/8/count)
		ways := []func(string) (way, func() error, error){openBare, openLate, openBatch, openKeeper, openBareHTTP, openHTTP}
		last := len(ways) - 1
		names, took, ratios := make([]string, len(ways)), make([]times, len(ways)), make([][]float64, len(ways))
		rates := make([][]float64, len(ways))
		for round := range o.rounds {
			phones, err := newPhones(count, each)
			if err != nil {
				return err
			}
			rate := make([]float64, len(ways))
			for i := range ways {
				i = (i + round) % len(ways) // each comes first as often as the others
				name, t, d, err := pushAll(ways[i], phones)
				if err != nil {
					return err
				}
				names[i], took[i] = name, append(took[i], t...)
				rate[i] = float64(len(t)) / d.Seconds()
			}
			for i := range ways {
				limit := 0 // bare bbolt; of HTTP, bare bbolt behind the same HTTP
				if i == last {
					limit = last - 1
				}
				rates[i], ratios[i] = append(rates[i], rate[i]), append(ratios[i], rate[i]/rate[limit])
			}
		}
		for i, name := range names {
			slices.Sort(rates[i])
			slices.Sort(ratios[i])
			limit := "bare"
			if i == last {
				limit = "bare HTTP"
			}
			fmt.Printf("  %2d phones, %-14s %7.0f a second, %4.2f of %s (half are %4.2f to %4.2f); %v\n",
				count, name+":", rates[i][o.rounds/2], ratios[i][o.rounds/2], limit, ratios[i][o.rounds/4], ratios[i][o.rounds*3/4], took[i])
		}
	}
	return nil
}

// pushAll has all phones push all they have, and times each push.
func pushAll(open func(dir string) (way, func() error, error), phones []*phone) (name string, took times, spent time.Duration, err error) {
	dir, err := os.MkdirTemp("", "hangtrue-measure-")
	if err != nil {
		return "", nil, 0, err
	}
	defer os.RemoveAll(dir)
	w, end, err := open(dir)
	if err != nil {
		return "", nil, 0, err
	}
	defer func() { err = errors.Join(err, end()) }()
	for _, p := range phones {
		if err := w.push(p, 0); err != nil {
			return "", nil, 0, err
		}
	}
	mine, errs := make([]times, len(phones)), make([]error, len(phones))
	var wait sync.WaitGroup
	began := time.Now()
	for i, p := range phones {
		wait.Go(func() {
			for next := 1; next < len(p.entries); next++ {
				one := time.Now()
				if errs[i] = w.push(p, next); errs[i] != nil {
					return
				}
				mine[i] = append(mine[i], time.Since(one))
			}
		})
	}
	wait.Wait()
	return w.name, slices.Concat(mine...), time.Since(began), errors.Join(errs...)
}

// a bare store is bbolt alone: each push puts what has to be kept of an entry, packed
// beforehand: its record, its id in an index, and its job's line.
type bare struct {
	db           *bbolt.DB
	record, line []byte
	ids          int // how many ids are put at once, when there are as many
}

var recordsBucket, idsBucket, linesBucket = []byte("records"), []byte("ids"), []byte("lines")

func newBare(dir string) (*bare, error) {
	db, err := bbolt.Open(filepath.Join(dir, "bare.db"), 0o600, &bbolt.Options{FreelistType: bbolt.FreelistMapType, InitialMmapSize: 256 << 20, NoStatistics: true})
	if err != nil {
		return nil, err
	}
	if err := db.Update(func(tx *bbolt.Tx) error {
		for _, name := range [][]byte{recordsBucket, idsBucket, linesBucket} {
			if _, err := tx.CreateBucket(name); err != nil {
				return err
			}
		}
		return nil
	}); err != nil {
		return nil, errors.Join(err, db.Close())
	}
	b := &bare{db: db, ids: 1}
	if b.record, err = sizeOfRecord(); err != nil {
		return nil, errors.Join(err, db.Close())
	}
	b.line, err = store.Pack(store.Line{ID: jobID(0), Title: "Attic lounge 10", Head: 1000, Received: rehearsal.Clock, All: 2})
	return b, err
}

// what one push puts.
type puts struct {
	job    []byte
	number int64
}

// putsOf are the puts of a phone's push; jobs differ in the first part of their ids.
func putsOf(job string, number int64) puts { return puts{[]byte(job[:16]), number} }

func (p puts) key(number int64) []byte {
	return binary.BigEndian.AppendUint64(append(make([]byte, 0, 24), p.job...), uint64(number))
}

func (b *bare) put(tx *bbolt.Tx, p puts) error {
	records, ids := tx.Bucket(recordsBucket), tx.Bucket(idsBucket)
	records.FillPercent, ids.FillPercent = 0.9, 0.9 // as the store has them
	place := p.key(p.number)
	if err := errors.Join(records.Put(place, b.record), tx.Bucket(linesBucket).Put(p.job, b.line)); err != nil {
		return err
	}
	if p.number%int64(b.ids) > 0 {
		return nil
	}
	for n := p.number - int64(b.ids) + 1; n <= p.number; n++ {
		if err := ids.Put(fmt.Appendf(p.job[:16:16], "%016x", n), p.key(n)[16:]); err != nil {
			return err
		}
	}
	return nil
}

// group lets those who wait share a transaction.
func (b *bare) group() *together.Group[puts] {
	return &together.Group[puts]{Do: func(all []puts) []error {
		err := b.db.Update(func(tx *bbolt.Tx) error {
			for _, p := range all {
				if err := b.put(tx, p); err != nil {
					return err
				}
			}
			return nil
		})
		return slices.Repeat([]error{err}, len(all))
	}}
}

// grouped has phones push to a bare store, those who wait in one transaction.
func (b *bare) grouped(name string) way {
	group := b.group()
	return way{name, func(p *phone, i int) error { return group.Run(putsOf(p.job, p.entries[i].Number)) }}
}

func openBare(dir string) (way, func() error, error) {
	b, err := newBare(dir)
	if err != nil {
		return way{}, nil, err
	}
	return b.grouped("bare bbolt"), b.db.Close, nil
}

// openLate puts ids as the store does: many of a job at once, and until then they stand
// in its line. It is how far that alone brings bare bbolt.
func openLate(dir string) (way, func() error, error) {
	b, err := newBare(dir)
	if err != nil {
		return way{}, nil, err
	}
	b.ids = 17
	b.line = append(b.line, make([]byte, b.ids/2*16*4/3)...)
	return b.grouped("bare, ids late"), b.db.Close, nil
}

// openBatch has bbolt itself share transactions: by its own measure of how many, within a
// millisecond. Told beforehand how many come, it does as well as bare bbolt here.
func openBatch(dir string) (way, func() error, error) {
	b, err := newBare(dir)
	if err != nil {
		return way{}, nil, err
	}
	b.db.MaxBatchDelay = time.Millisecond
	return way{"bbolt's Batch", func(p *phone, i int) error {
		one := putsOf(p.job, p.entries[i].Number)
		return b.db.Batch(func(tx *bbolt.Tx) error { return b.put(tx, one) })
	}}, b.db.Close, nil
}

// sizeOfRecord is a record as the store keeps one that a phone pushes here.
func sizeOfRecord() ([]byte, error) {
	phones, err := newPhones(1, 1)
	if err != nil {
		return nil, err
	}
	return store.PackRecord(checklist.Record{Position: 1000, Received: rehearsal.Clock, Decision: checklist.Decision{Accepted: true}, Entry: phones[0].entries[1]}), nil
}

func newKeeper(dir string) (*server.Keeper, func() error, error) {
	s, err := bolt.Open(filepath.Join(dir, "jobs.db"))
	if err != nil {
		return nil, nil, err
	}
	key, _, err := seal.GenerateKey(bytes.NewReader(bytes.Repeat([]byte{7}, 64)))
	if err != nil {
		return nil, nil, errors.Join(err, s.Close())
	}
	k, err := server.NewKeeper(s, key, time.Now)
	return k, s.Close, err
}

func openKeeper(dir string) (way, func() error, error) {
	k, end, err := newKeeper(dir)
	return way{"keeper", func(p *phone, i int) error {
		_, answers, err := k.Push(p.job, [][]byte{p.entries[i].Bytes()})
		if err == nil && (answers[0].Record == nil || !answers[0].Record.Accepted) {
			err = fmt.Errorf("refused: %+v", answers[0])
		}
		return err
	}}, end, err
}

// noFiles are the files of a phone, which a push needs none of.
type noFiles struct{}

func (noFiles) Lookup(string) (pwa.File, bool) { return pwa.File{}, false }
func (noFiles) Assets() pages.Assets           { return pages.Assets{} }

func openHTTP(dir string) (way, func() error, error) {
	k, closeStore, err := newKeeper(dir)
	if err != nil {
		return way{}, nil, err
	}
	return serveApp("HTTP", server.New(server.Options{Keeper: k, Static: noFiles{}, Version: "measure"}), closeStore)
}

// openBareHTTP puts bare bbolt behind the same HTTP: what comes is kept unread, and the
// answer is as long.
func openBareHTTP(dir string) (way, func() error, error) {
	b, err := newBare(dir)
	if err != nil {
		return way{}, nil, err
	}
	group := b.group()
	answer := fmt.Appendf(nil, `{"answers":[{"id":%q,"record":%s}],"head":1000}`, jobID(0), b.record[32:])
	app := fiber.New(fiber.Config{DisableStartupMessage: true, Immutable: true})
	var number atomic.Int64
	app.Post("/api/jobs/:job/entries", func(c *fiber.Ctx) error {
		if err := group.Run(putsOf(c.Params("job"), number.Add(1))); err != nil {
			return err
		}
		c.Set(fiber.HeaderContentType, fiber.MIMEApplicationJSON)
		return c.Send(answer)
	})
	return serveApp("bare HTTP", app, b.db.Close)
}

// serveApp has phones push to an app by HTTP. What they send is made beforehand, and of
// what is answered they look for one word: the processor is the server's.
func serveApp(name string, app *fiber.App, closeStore func() error) (way, func() error, error) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return way{}, nil, errors.Join(err, closeStore())
	}
	served := make(chan error, 1)
	go func() { served <- app.Listener(l) }()
	client := &fasthttp.HostClient{Addr: l.Addr().String(), MaxConns: 256, NoDefaultUserAgentHeader: true}
	end := func() error {
		client.CloseIdleConnections()
		return errors.Join(app.ShutdownWithTimeout(5*time.Second), <-served, closeStore())
	}
	return way{name, func(p *phone, i int) error {
		ask, answer := fasthttp.AcquireRequest(), fasthttp.AcquireResponse()
		defer fasthttp.ReleaseRequest(ask)
		defer fasthttp.ReleaseResponse(answer)
		ask.SetRequestURI("http://" + client.Addr + "/api/jobs/" + p.job + "/entries")
		ask.Header.SetMethod(http.MethodPost)
		ask.Header.SetContentType("application/json")
		ask.SetBodyRaw(p.pushes[i])
		if err := client.Do(ask, answer); err != nil {
			return err
		}
		if answer.StatusCode() != http.StatusOK || !bytes.Contains(answer.Body(), []byte(`"accepted":true`)) {
			return fmt.Errorf("a push was answered %d: %.200s", answer.StatusCode(), answer.Body())
		}
		return nil
	}}, end, nil
}

// a client asks a server as phones do.
type client struct {
	url  string
	http *http.Client
}

func newClient(url string) *client {
	return &client{url, &http.Client{Transport: &http.Transport{DisableCompression: true, MaxIdleConnsPerHost: 64}, Timeout: 30 * time.Second}}
}

// push sends entries and gives one answer each.
func (c *client) push(job string, entries ...checklist.Entry) ([]server.Answer, error) {
	texts := make([]string, len(entries))
	for i, e := range entries {
		texts[i] = string(e.Bytes())
	}
	body, err := json.Marshal(map[string]any{"entries": texts})
	if err != nil {
		return nil, err
	}
	res, err := c.http.Post(c.url+"/api/jobs/"+job+"/entries", "application/json", bytes.NewReader(body))
	if err != nil {
		return nil, err
	}
	defer res.Body.Close()
	var answer struct{ Answers []server.Answer }
	if res.StatusCode != http.StatusOK {
		return nil, fmt.Errorf("a push was answered %s", res.Status)
	}
	if err := json.NewDecoder(res.Body).Decode(&answer); err != nil {
		return nil, err
	}
	if len(answer.Answers) != len(entries) {
		return nil, fmt.Errorf("%d entries had %d answers", len(entries), len(answer.Answers))
	}
	return answer.Answers, nil
}
