package main

import (
	"fmt"
	"math/rand"
	"os"
	"path/filepath"
	"sync"
	"time"

	"hangtrue/checklist"
	"hangtrue/server"
	"hangtrue/server/folder"
)

// a pusher sends batches to a program that is killed under it, and remembers what it
// was told was kept.
type pusher struct {
	phone
	batch []checklist.Entry
	kept  map[string]*checklist.Record
	err   error
}

// work sends until the program no longer answers. What was not answered is sent
// again to the next.
func (p *pusher) work(c *client, random *rand.Rand) {
	for p.err == nil {
		if p.batch == nil {
			kind, body := checklist.RemarkWritten, any(checklist.Remark{Text: "40 mm off plan, asked the lead, stays as it is"})
			if p.made == 0 {
				kind, body = checklist.JobOpened, checklist.Opening{Title: "Attic lounge"}
			}
			for range 1 + random.Intn(4) {
				e, err := p.next(kind, body)
				if err != nil {
					p.err = err
					return
				}
				p.batch = append(p.batch, e)
				kind, body = checklist.RemarkWritten, checklist.Remark{Text: "and so it stays"}
			}
		}
		answers, err := c.push(p.job, p.batch...)
		if err != nil {
			return
		}
		p.err = p.note(answers)
	}
}

func (p *pusher) note(answers []server.Answer) error {
	for i, a := range answers {
		if a.Record == nil || !a.Record.Accepted {
			return fmt.Errorf("entry %d of job %s was answered %+v", p.batch[i].Number, p.job, a)
		}
		p.kept[a.ID] = a.Record
	}
	p.batch = nil
	return nil
}

func measureKill(o options) error {
	dir, err := os.MkdirTemp("", "hangtrue-measure-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	data := filepath.Join(dir, "data")
	random := rand.New(rand.NewSource(o.seed))
	var pushers []*pusher
	for n := range 8 {
		pushers = append(pushers, &pusher{phone: phone{job: jobID(n), device: leadPhone}, kept: map[string]*checklist.Record{}})
	}
	var starts times
	for range o.kills {
		r, err := serve(o.program, data)
		if err != nil {
			return err
		}
		starts = append(starts, r.start)
		var wait sync.WaitGroup
		for _, p := range pushers {
			sizes := rand.New(rand.NewSource(random.Int63()))
			wait.Go(func() { p.work(r.client, sizes) })
		}
		time.Sleep(time.Duration(2+random.Intn(120)) * time.Millisecond) // the moment of the kill
		r.kill()
		wait.Wait()
	}
	fmt.Printf("  seed %d; time to serve again: %v\n", o.seed, starts)
	return inFolder(data, func(f *folder.Folder) error { return audit(f, pushers, o.kills) })
}

// audit holds what the store has against what its phones were told.
func audit(f *folder.Folder, pushers []*pusher, kills int) error {
	told, lost, changed, twice, all := 0, 0, 0, 0, 0
	for _, p := range pushers {
		if p.err != nil {
			return p.err
		}
		records, err := f.Store.Records(p.job, 0, 1<<30, 1<<40)
		if err != nil {
			return err
		}
		there := map[string]checklist.Record{}
		for _, r := range records {
			if _, ok := there[r.Entry.ID]; ok {
				twice++
			}
			there[r.Entry.ID] = r
		}
		all += len(records)
		told += len(p.kept)
		for id, want := range p.kept {
			got, ok := there[id]
			switch {
			case !ok:
				lost++
			case got.Position != want.Position || string(got.Leaf()) != string(want.Leaf()):
				changed++
			}
		}
	}
	fmt.Printf("  %d kills: of %d entries that were answered %d are lost, %d changed; %d records in all, %d of them twice\n", kills, told, lost, changed, all, twice)
	if lost+changed+twice > 0 {
		return fmt.Errorf("the store is not what its phones were told")
	}
	return nil
}
