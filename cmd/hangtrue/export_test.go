package main

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist/plan"
	"hangtrue/server/folder"
	"hangtrue/testdata/demo"
)

const (
	demoMounts   = "../../testdata/tables/mounts.csv"
	measuredCSV  = "../../testdata/tables/measured.csv"
	examplePlan  = "../../testdata/plans/example.json"
	exampleTyped = "../../testdata/tables/mounts-as-typed.csv"
)

func fileText(t *testing.T, path string) string {
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	return string(data)
}

func tempFile(t *testing.T, name, text string) string {
	path := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	return path
}

// TestCheck_MeasuredTable: readings in a table are judged as the same in a file are.
func TestCheck_MeasuredTable(t *testing.T) {
	got := command(t, "", "check", demoPlan, "--measured", measuredCSV, "--brief")
	assert.Equal(t, exitOff, got.code, got.stderr)
	golden(t, "check-measured.txt", got.stdout)

	slips := tempFile(t, "read.csv", "channel,along_m,up_m,tape\nM+030,abc,1.2,tape 8 m\nM-030,4.57,1.2,string\n")
	got = command(t, "", "check", demoPlan, "--measured", slips)
	assert.Equal(t, exitBad, got.code)
	assert.Equal(t, "hangtrue: "+slips+`: row 2, column "along_m": read "abc", want a length such as 1.254 or 49 3/8": a number with m, cm, mm, in or ft`+"\n", got.stderr)
}

// TestExport_Files: tables out of a plan and a record, and readings from either form
// into the other.
func TestExport_Files(t *testing.T) {
	record, _ := signedRecord(t)
	file := tempFile(t, "record.json", string(record))
	p, err := plan.Decode(demo.Plan)
	require.NoError(t, err)
	settled, err := p.Encode() // as the rehearsal settles it
	require.NoError(t, err)

	for _, row := range []struct {
		args []string
		want string
	}{
		{[]string{"mounts", demoPlan}, fileText(t, demoMounts)},
		{[]string{"mounts", file}, fileText(t, demoMounts)},
		{[]string{"mounts", file, "--revision", "1"}, fileText(t, demoMounts)},
		{[]string{"plan", file}, string(settled)},
		{[]string{"measured", demoPlan, "--measured", demoMeasured}, fileText(t, measuredCSV)},
	} {
		got := command(t, "", append([]string{"export"}, row.args...)...)
		assert.Equal(t, exitGood, got.code, got.stderr)
		assert.Equal(t, row.want, got.stdout, row.args)
	}
	got := command(t, "", "export", "measured", demoPlan, "--measured", measuredCSV, "--json")
	require.Equal(t, exitGood, got.code, got.stderr)
	read, err := plan.DecodeMeasured([]byte(got.stdout), p)
	require.NoError(t, err)
	want, err := plan.DecodeMeasured([]byte(fileText(t, demoMeasured)), p)
	require.NoError(t, err)
	assert.Equal(t, want.Mounts, read.Mounts)

	// Everything that was recorded as planned is within when it is read back.
	for _, form := range [][]string{nil, {"--json"}} {
		got = command(t, "", append([]string{"export", "measured", file}, form...)...)
		require.Equal(t, exitGood, got.code, got.stderr)
		got = command(t, "", "check", demoPlan, "--measured", tempFile(t, "read", got.stdout))
		assert.Equal(t, exitGood, got.code, got.stdout+got.stderr)
	}
}

// TestExport_Job: what a running server hands out, from a computer that it lets in
// and from one that it has to pair first.
func TestExport_Job(t *testing.T) {
	for _, extra := range [][]string{nil, {"--locked"}} {
		dir := t.TempDir()
		p := start(t, append([]string{"--demo", "--data", dir}, extra...)...)
		t.Cleanup(func() { _ = p.cmd.Process.Kill(); p.end() })
		export := func(args ...string) outcome {
			return command(t, "", append([]string{"export", "--job", demoJob, "--server", p.url, "--data", dir}, args...)...)
		}
		got := export("plan")
		require.Equal(t, exitGood, got.code, got.stderr)
		assert.Equal(t, string(demo.Plan), got.stdout, "to the byte")
		assert.Equal(t, fileText(t, demoMounts), export("mounts", "--revision", "1").stdout)
		assert.Equal(t, "channel,along_m,up_m,height_m,distance_m,tilt_deg,tape,laser,level\r\n", export("measured").stdout, "nothing yet")
		assert.Contains(t, export("measured", "--json").stdout, `"format": "hangtrue-measured/1"`)
		assert.Contains(t, export("mounts", "--revision", "2").stderr, "no revision 2")
		record := export("record")
		require.Equal(t, exitGood, record.code, record.stderr)
		got = command(t, record.stdout, "verify", "-")
		assert.Contains(t, got.stdout, "Intact: every entry is what was sealed.")
	}
}

func TestExport_Import_Refuse(t *testing.T) {
	record, _ := signedRecord(t)
	file := tempFile(t, "record.json", string(record))
	changed := tempFile(t, "changed.json", strings.Replace(string(record), `\"along_um\":[`, `\"along_um\":[1`, 1))
	for _, row := range []struct {
		args []string
		says string
	}{
		{[]string{"export"}, "wants one of plan, mounts, measured, record"},
		{[]string{"export", "walls", demoPlan}, "wants one of plan, mounts, measured, record"},
		{[]string{"export", "mounts"}, "say what to take it from"},
		{[]string{"export", "mounts", demoPlan, "--job", demoJob}, "say what to take it from"},
		{[]string{"export", "mounts", "--job", "x"}, `--job is "x", wanted a job's id`},
		{[]string{"export", "mounts", "--job", demoJob, "--server", "http://127.0.0.1:1"}, "no server answers"},
		{[]string{"export", "mounts", demoPlan, "--json"}, "--json goes with measured alone"},
		{[]string{"export", "mounts", demoPlan, "--measured", demoMeasured}, "--measured goes with measured"},
		{[]string{"export", "mounts", demoPlan, "--revision", "1"}, "which has no revisions"},
		{[]string{"export", "measured", file, "--revision", "1"}, "--revision goes with"},
		{[]string{"export", "plan", file, "--revision", "-1"}, "--revision is -1"},
		{[]string{"export", "plan", file, "--revision", "2"}, "no revision 2 of the plan"},
		{[]string{"export", "plan", demoPlan}, "it is a plan"},
		{[]string{"export", "measured", demoPlan}, "nothing was measured"},
		{[]string{"export", "record", file}, "a record already"},
		{[]string{"export", "mounts", changed}, "it is not what was sealed"},
		{[]string{"export", "mounts", demoMounts}, "mounts.csv: document: read"},
		{[]string{"import"}, "one record or table"},
		{[]string{"import", demoMounts}, "say with --plan which plan"},
		{[]string{"import", demoPlan, "--data", t.TempDir()}, "not a record file"},
		{[]string{"import", file, "--key", "x"}, "--key is not a public key"},
		{[]string{"import", file, "--only"}, "go with --plan"},
		{[]string{"import", file}, "say where to keep jobs with --data"},
		{[]string{"import", demoMounts, "--plan", demoPlan, "--key", "x"}, "go with a record"},
		{[]string{"import", demoMounts, "--plan", demoMounts}, "mounts.csv: document: read"},
		{[]string{"import", filepath.Join(t.TempDir(), "none.csv"), "--plan", demoPlan}, "none.csv: no such file"},
		{[]string{"import", demoMounts, "--plan", examplePlan}, `mounts.csv: row 2, column "fixing": read "Wall plug 8", want one of "Stud screw"`},
		{[]string{"import", demoMounts, "--plan", demoPlan, "--out", filepath.Join(t.TempDir(), "none", "new.json")}, "no such file or directory"},
	} {
		got := command(t, "", row.args...)
		assert.Equal(t, exitBad, got.code, row.args)
		assert.Contains(t, got.stderr, row.says, row.args)
		for line := range strings.Lines(got.stderr) {
			assert.True(t, strings.HasPrefix(line, "hangtrue: "), line)
		}
	}
}

// TestImport_Mounts: what a table changes is told, and written only where it is asked for.
func TestImport_Mounts(t *testing.T) {
	before := fileText(t, examplePlan)
	mine := tempFile(t, "plan.json", before)
	got := command(t, "", "import", exampleTyped, "--plan", mine)
	require.Equal(t, exitGood, got.code, got.stderr)
	assert.Contains(t, got.stdout, "mount M-030, hole up from the datum edge: 1.200 m becomes 1.254 m (54 mm more)")
	assert.Contains(t, got.stdout, "Nothing was written")
	assert.Equal(t, before, fileText(t, mine))

	got = command(t, fileText(t, exampleTyped), "import", "-", "--plan", mine, "--out", mine)
	require.Equal(t, exitGood, got.code, got.stderr)
	assert.Contains(t, got.stdout, "Written to "+mine)
	p, err := plan.Decode([]byte(fileText(t, mine)))
	require.NoError(t, err)
	assert.Equal(t, 1.254125, p.MountByChannel("M-030").Up) // 49 3/8 in at 25.4 mm to the inch (international inch of 1959)
	assert.Contains(t, command(t, "", "import", exampleTyped, "--plan", mine).stdout, "The plan has these mounts already.")

	one := tempFile(t, "one.csv", "channel\nM+030\n")
	assert.Contains(t, command(t, "", "import", one, "--plan", mine).stdout, "left as they are: M-030")
	got = command(t, "", "import", one, "--plan", mine, "--only", "--out", mine)
	assert.Contains(t, got.stdout, "mount M-030: removed")
	p, err = plan.Decode([]byte(fileText(t, mine)))
	require.NoError(t, err)
	assert.Len(t, p.Mounts, 1)
}

// TestImport_Record: a record becomes a job of a folder and of a running server, once.
func TestImport_Record(t *testing.T) {
	t.Setenv(runVariable, "1") // for the doctor's own process
	record, key := signedRecord(t)
	file := tempFile(t, "record.json", string(record))
	dir := filepath.Join(t.TempDir(), "data")
	got := command(t, "", "import", file, "--data", dir, "--key", key)
	require.Equal(t, exitGood, got.code, got.stderr)
	golden(t, "import.txt", strings.ReplaceAll(got.stdout, dir, "DATA"))
	kept := fileText(t, filepath.Join(dir, folder.ImportsDir, recordJob+".json"))
	assert.Equal(t, sha(string(record)), sha(kept))
	got = command(t, "", "import", file, "--data", dir)
	require.Equal(t, exitGood, got.code, got.stderr)
	golden(t, "import-again.txt", got.stdout)
	assert.Equal(t, exitGood, command(t, "", "doctor", "--data", dir).code)

	other := filepath.Join(t.TempDir(), "data")
	p := start(t, "--data", other)
	t.Cleanup(func() { _ = p.cmd.Process.Kill(); p.end() })
	got = command(t, "", "import", file, "--data", other)
	require.Equal(t, exitGood, got.code, got.stderr)
	assert.Contains(t, got.stdout, "Taken over into")
	assert.Contains(t, got.stdout, "Checked with the key in the record itself")
	was := command(t, "", "export", "plan", file)
	assert.Equal(t, was.stdout, command(t, "", "export", "plan", "--job", recordJob, "--server", p.url).stdout)

	changed := tempFile(t, "changed.json", strings.Replace(string(record), `\"along_um\":[`, `\"along_um\":[1`, 1))
	for _, to := range []string{other, filepath.Join(t.TempDir(), "new")} {
		got = command(t, "", "import", changed, "--data", to)
		assert.Equal(t, exitBad, got.code)
		assert.Regexp(t, `^hangtrue: .*: the record is not intact, so that nothing was added:\nhangtrue: .*: Entry \d+ \(.*\) is not what was sealed\.\n$`, got.stderr)
	}
	shorter, _ := smallRecord(t)
	got = command(t, "", "import", tempFile(t, "small.json", string(shorter)), "--data", other)
	assert.Equal(t, exitBad, got.code)
	assert.Contains(t, got.stderr, fmt.Sprintf("job %s is on this server already, and its log differs from the record at entry 2. Nothing was added", recordJob))
}

func sha(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:])
}
