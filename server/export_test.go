package server_test

import (
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"mime"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/table"
	"hangtrue/server"
	"hangtrue/server/memory"
	"hangtrue/testdata/demo"
)

// TestExport_Plan: the document comes back as it was settled, not as a program would
// write it, each revision under the hash that the log has for it.
func TestExport_Plan(t *testing.T) {
	s := serve(t, memory.New())
	d := lead(t, jobA)
	at := "/api/jobs/" + jobA + "/plan"
	assert.Contains(t, s.get(at).problem(t, 404), "no such job")
	s.push(jobA, d.open(`=Attic "lounge"/é`))
	assert.Contains(t, s.get(at).problem(t, 404), "No plan")

	odd := strings.Replace(string(demo.Plan), `"title":`, `"title"  :`, 1)
	require.NotEqual(t, string(demo.Plan), odd)
	s.push(jobA, d.settle(), d.make(checklist.PlanSettled, checklist.NewSettlement(2, "Spaces.", []byte(odd))))
	for query, want := range map[string]string{"": odd, "?revision=2": odd, "?revision=1": string(demo.Plan)} {
		r := s.get(at + query)
		require.Equal(t, 200, r.StatusCode, r.body)
		assert.Equal(t, want, r.body)
		sum := sha256.Sum256([]byte(want))
		tag := `"` + hex.EncodeToString(sum[:]) + `"`
		assert.Equal(t, tag, r.Header.Get("ETag"))
		assert.Equal(t, "private, no-cache", r.Header.Get("Cache-Control"))
		assert.Equal(t, "application/json; charset=utf-8", r.Header.Get("Content-Type"))
		for header, status := range map[string]int{tag: 304, "W/" + tag: 304, `"x", ` + tag: 304, "*": 304, `"x"`: 200, strings.Trim(tag, `"`): 200} {
			again := s.get(at+query, "If-None-Match", header)
			assert.Equal(t, status, again.StatusCode, header)
			assert.Equal(t, tag, again.Header.Get("ETag"), header)
			if status == 304 {
				assert.Empty(t, again.body)
			}
		}
		_, names, err := mime.ParseMediaType(r.Header.Get("Content-Disposition"))
		require.NoError(t, err)
		assert.Equal(t, " Attic  lounge é plan.json", names["filename"], "RFC 6266: the second form is the one taken")
		assert.Contains(t, r.Header.Get("Content-Disposition"), "attachment; filename=plan-"+jobA+".json;")
	}
	for query, says := range map[string]string{"?revision=3": "no revision 3 of this plan; the one in force is 2", "?revision=0": "no revision 0"} {
		assert.Contains(t, s.get(at+query).problem(t, 404), says)
	}
	for _, query := range []string{"?revision=-1", "?revision=x", "?revision=1e0"} {
		assert.Contains(t, s.get(at+query).problem(t, 400), "revision is")
	}
}

// TestExport_Tables: what is handed out is what package table makes of the job, and
// what a reader of CSV finds in it.
func TestExport_Tables(t *testing.T) {
	m := memory.New()
	_, state := finished(t, m)
	s := serve(t, m)
	for name, heading := range map[string]string{"mounts.csv": "loudspeaker", "measured.csv": "along_m"} {
		r := s.get("/api/jobs/" + jobA + "/" + name)
		require.Equal(t, 200, r.StatusCode, r.body)
		kind, parameters, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
		require.NoError(t, err)
		assert.Equal(t, "text/csv", kind)
		assert.Equal(t, map[string]string{"charset": "utf-8", "header": "present"}, parameters, "RFC 4180 section 3")
		assert.Equal(t, "no-store", r.Header.Get("Cache-Control"))
		assert.Contains(t, r.Header.Get("Content-Disposition"), "attachment; filename="+strings.Replace(name, ".", "-"+jobA+".", 1))
		rows, err := csv.NewReader(strings.NewReader(r.body)).ReadAll()
		require.NoError(t, err)
		assert.Len(t, rows, 1+len(state.Mounts()))
		assert.Equal(t, "channel", rows[0][0])
		assert.Contains(t, rows[0], heading)
	}
	mounts, err := table.ReadMounts([]byte(s.get("/api/jobs/"+jobA+"/mounts.csv?revision=1").body), state.Plan(), table.Drop)
	require.NoError(t, err)
	assert.Equal(t, state.Plan().Mounts, mounts.Mounts)
	measured, err := table.ReadMeasured([]byte(s.get("/api/jobs/"+jobA+"/measured.csv").body), state.Plan())
	require.NoError(t, err)
	r := s.get("/api/jobs/" + jobA + "/measured.json")
	require.Equal(t, 200, r.StatusCode, r.body)
	read, err := plan.DecodeMeasured([]byte(r.body), state.Plan())
	require.NoError(t, err)
	assert.Equal(t, measured.Mounts, read.Mounts)
	for _, name := range []string{"mounts.csv", "measured.csv", "measured.json", "plan"} {
		assert.Contains(t, s.get("/api/jobs/"+jobB+"/"+name).problem(t, 404), "no such job")
		assert.Contains(t, s.get("/api/jobs/x/"+name).problem(t, 404), "UUID")
	}
}

// TestExport_Resumed: a state that was opened from its snapshot hands out the same.
func TestExport_Resumed(t *testing.T) {
	m := memory.New()
	finished(t, m)
	k := keeper(t, m)
	k.SnapshotEvery(10)
	s := listen(t, server.Options{Keeper: k, Static: someFiles, Version: "test"})
	whole := map[string]string{}
	for _, name := range []string{"plan", "mounts.csv", "measured.csv", "measured.json"} {
		whole[name] = s.get("/api/jobs/" + jobA + "/" + name).body
	}
	shot, err := m.Snapshot(jobA)
	require.NoError(t, err)
	require.NotEmpty(t, shot)
	resumed := serve(t, m)
	state, err := resumed.keeper.State(jobA)
	require.NoError(t, err)
	require.True(t, state.Resumed())
	for name, want := range whole {
		assert.Equal(t, want, resumed.get("/api/jobs/"+jobA+"/"+name).body, name)
	}
}
