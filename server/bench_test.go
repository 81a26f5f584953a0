package server_test

import (
	"encoding/binary"
	"errors"
	"fmt"
	"net/http"
	"path/filepath"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"go.etcd.io/bbolt"

	"hangtrue/checklist"
	"hangtrue/server"
	"hangtrue/server/memory"
	"hangtrue/server/store"
	"hangtrue/server/store/storetest"
)

// BenchmarkPush is durable pushes of one entry each by 64 phones, each on its own
// job, into one bolt store, against bare bbolt's own shared transactions (Batch)
// that write keys and values of the same sizes to the same buckets. Pushes without
// HTTP, and with.
func BenchmarkPush(b *testing.B) {
	const phones = 64
	run := func(b *testing.B, push func(d *device, e checklist.Entry)) {
		var next atomic.Int64
		devices := make([]*device, phones)
		for i := range devices {
			devices[i] = lead(b, fmt.Sprintf("018f3c5e-7a10-7000-8000-%012d", i))
			push(devices[i], devices[i].open("Attic lounge"))
		}
		b.ResetTimer()
		var wait sync.WaitGroup
		for _, d := range devices {
			wait.Go(func() {
				for next.Add(1) <= int64(b.N) {
					push(d, d.remark("40 mm off, asked the lead, stays"))
				}
			})
		}
		wait.Wait()
		b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "pushes/s")
	}
	b.Run("keeper", func(b *testing.B) {
		k := keeper(b, openBolt(b))
		run(b, func(d *device, e checklist.Entry) {
			if _, a, err := k.Push(d.job, [][]byte{e.Bytes()}); err != nil || a[0].Record == nil {
				b.Errorf("%v %+v", err, a)
			}
		})
	})
	b.Run("keeper without a disk", func(b *testing.B) { // what deciding takes
		k := keeper(b, memory.New())
		run(b, func(d *device, e checklist.Entry) {
			if _, a, err := k.Push(d.job, [][]byte{e.Bytes()}); err != nil || a[0].Record == nil {
				b.Errorf("%v %+v", err, a)
			}
		})
	})
	b.Run("http", func(b *testing.B) {
		s := serve(b, openBolt(b))
		run(b, func(d *device, e checklist.Entry) {
			if r := s.do(http.MethodPost, "/api/jobs/"+d.job+"/entries", pushBody(string(e.Bytes()))); r.StatusCode != 200 {
				b.Error(r.body)
			}
		})
	})
	b.Run("bare", func(b *testing.B) {
		db, err := bbolt.Open(filepath.Join(b.TempDir(), "bare.db"), 0o600, &bbolt.Options{FreelistType: bbolt.FreelistMapType, InitialMmapSize: 256 << 20, NoStatistics: true})
		require.NoError(b, err)
		defer db.Close()
		db.MaxBatchDelay = time.Millisecond
		records, ids, lines := []byte("records"), []byte("ids"), []byte("lines")
		require.NoError(b, db.Update(func(tx *bbolt.Tx) error {
			for _, name := range [][]byte{records, ids, lines} {
				if _, err := tx.CreateBucket(name); err != nil {
					return err
				}
			}
			return nil
		}))
		record, line := make([]byte, 700), make([]byte, 200) // about what a packed remark and a line take
		run(b, func(d *device, e checklist.Entry) {
			job := []byte(d.job[20:36])
			place := binary.BigEndian.AppendUint64(slices.Clone(job), uint64(e.Number))
			byID := append(slices.Clone(job), e.ID[20:36]...)
			if err := db.Batch(func(tx *bbolt.Tx) error {
				return errors.Join(tx.Bucket(records).Put(place, record), tx.Bucket(ids).Put(byID, place[16:]), tx.Bucket(lines).Put(job, line))
			}); err != nil {
				b.Error(err)
			}
		})
	})
}

// BenchmarkManyJobs measures a store with many jobs: start, the list, opening one
// job that is not at hand, and what the process holds.
func BenchmarkManyJobs(b *testing.B) {
	const jobs, each = 2000, 100
	s := openBolt(b)
	id := func(j int) string { return fmt.Sprintf("018f3c5e-7a10-7000-8000-%012d", j) }
	for from := 0; from < jobs; from += 50 {
		var additions []store.Addition
		for j := from; j < from+50; j++ {
			additions = append(additions, storetest.Addition(id(j), storetest.Records(b, id(j), 1, each)...))
		}
		require.NoError(b, s.Append(additions...))
	}
	b.Run("start", func(b *testing.B) {
		for b.Loop() {
			_, err := server.NewKeeper(s, key(b), clock())
			require.NoError(b, err)
		}
	})
	site := serve(b, s)
	b.Run("list page", func(b *testing.B) {
		for b.Loop() {
			require.Equal(b, 200, site.get("/").StatusCode)
		}
	})
	b.Run("open a job", func(b *testing.B) {
		j := 0
		for b.Loop() {
			_, err := site.keeper.State(id(j % jobs))
			require.NoError(b, err)
			j++
		}
		runtime.GC()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		b.ReportMetric(float64(m.HeapAlloc)/(1<<20), "MiB-held")
	})
}
