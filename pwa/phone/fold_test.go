//go:build !(js && wasm)

package main_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/checklist/rehearsal"
	"hangtrue/pwa/internal/stand"
)

// The file that a phone runs decides and folds as this machine does: exp and pow
// differ between them in the last bit, and no verdict and no state may show it.
// Readings are put around the limits on purpose, to the micrometre.
func TestFoldWebAssemblyAgrees(t *testing.T) {
	if _, err := exec.LookPath("node"); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("node is needed here:", err)
		}
		t.Skip("node runs the WebAssembly file, and it is not installed:", err)
	}
	dist := t.TempDir()
	c := exec.Command("go", "run", "./internal/build", "-fast", "-out", dist)
	c.Dir = ".."
	out, err := c.CombinedOutput()
	require.NoError(t, err, "%s", out)
	found, err := filepath.Glob(filepath.Join(dist, "assets", "phone.*.wasm"))
	require.NoError(t, err)
	require.Equal(t, 1, len(found))
	root := strings.TrimSpace(string(command(t, nil, "go", "env", "GOROOT")))

	var log bytes.Buffer
	encode := json.NewEncoder(&log)
	records := 0
	for _, file := range []string{"plans/example.json", "demo/plan.json"} {
		document, err := os.ReadFile("../../testdata/" + file)
		require.NoError(t, err)
		for seed := range uint64(8) {
			for _, r := range generated(t, document, records, seed) {
				require.NoError(t, encode.Encode(r))
				records++
			}
		}
	}
	native := filepath.Join(t.TempDir(), "phone")
	command(t, nil, "go", "build", "-o", native, ".")
	want := command(t, log.Bytes(), native, "fold")
	got := command(t, log.Bytes(), "node", "--stack-size=8192", filepath.Join(root, "lib", "wasm", "wasm_exec_node.js"), found[0], "fold")
	require.Greater(t, bytes.Count(want, []byte("\n")), records)
	require.Greater(t, bytes.Count(want, []byte(`"outcome":"outside"`)), 0, "some readings are outside")
	require.Greater(t, bytes.Count(want, []byte(`"outcome":"unsure"`)), 0, "some readings are unsure")
	wants, gots := strings.Split(string(want), "\n"), strings.Split(string(got), "\n")
	for i := range min(len(wants), len(gots)) {
		require.Equal(t, wants[i], gots[i], "line %d", i+1)
	}
	require.Equal(t, len(wants), len(gots))
	t.Logf("%d records, %d lines, equal", records, len(wants))
}

func command(t *testing.T, in []byte, name string, args ...string) []byte {
	t.Helper()
	c := exec.Command(name, args...)
	c.Stdin = bytes.NewReader(in)
	var stderr bytes.Buffer
	c.Stderr = &stderr
	out, err := c.Output()
	require.NoError(t, err, "%s %v: %s", name, args, stderr.String())
	return out
}

// generated is a log of anything that people may do, mostly in order.
func generated(t *testing.T, document []byte, number int, seed uint64) []checklist.Record {
	s, err := stand.Open(fmt.Sprintf("0190%04x-0000-7000-8000-000000000000", number), document)
	require.NoError(t, err)
	random := rand.New(rand.NewPCG(seed, 7))
	do := func(kind checklist.Kind, body any) {
		e, err := s.Entry(s.Device, checklist.Lead, kind, body)
		require.NoError(t, err)
		s.Push(e)
	}
	for range 150 {
		keys := s.State.Keys()
		k := keys[random.IntN(len(keys))]
		switch random.IntN(12) {
		case 0:
			do(checklist.StepConceded, checklist.Reasoned{Step: k.Step, Mount: k.Mount, Reason: "as it is"})
		case 1:
			do(checklist.StepReopened, checklist.Reasoned{Step: k.Step, Mount: k.Mount, Reason: "look again"})
		case 2:
			do(checklist.PlanSettled, checklist.NewSettlement(s.State.Revision()+1, "again", document))
		case 3:
			do(checklist.JobSigned, checklist.Signing{Revision: s.State.Revision(), Head: s.State.Head})
		case 4:
			do(checklist.RemarkWritten, checklist.Remark{Text: "seen"})
		case 5:
			if s.State.Template.Step(k.Step).Kind == checklist.StepRecorded {
				do(checklist.StepRecorded, moved(t, s.State, k, random))
			}
		default:
			if next, ok := s.State.Next(""); ok && s.State.Template.Step(next.Step).Kind == checklist.StepRecorded {
				do(checklist.StepRecorded, moved(t, s.State, next, random))
			}
		}
	}
	return s.Records
}

// moved is a step recorded as planned, with some readings off by what is about a
// tolerance of the plans.
func moved(t *testing.T, s *checklist.State, k checklist.Key, random *rand.Rand) checklist.Recording {
	r, err := rehearsal.Recording(s.Plan(), k.Step, k.Mount)
	require.NoError(t, err)
	if random.IntN(3) > 0 {
		return r
	}
	off := []int64{1, 3000, 4000, 5000, 10000, 20000, 30000, 60000}[random.IntN(8)] + random.Int64N(3) - 1
	for key := range r.Measured {
		if step := s.Template.Step(k.Step); strings.HasSuffix(key, "_um") && step.Scope == checklist.PerMount {
			r.Measured[key][0] += off
		}
	}
	return r
}
