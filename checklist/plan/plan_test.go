package plan_test

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/checklist/plan"
	"hangtrue/checklist/strict"
)

var update = flag.Bool("update", false, "write golden files and the schema anew")

const testdata = "../../testdata/"

func read(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(testdata + name)
	require.NoError(t, err)
	return data
}

func decode(t testing.TB, name string) *plan.Plan {
	t.Helper()
	p, err := plan.Decode(read(t, name))
	require.NoError(t, err)
	return p
}

// golden compares with a file that -update writes.
func golden(t *testing.T, path string, got []byte) {
	t.Helper()
	if *update {
		require.NoError(t, os.WriteFile(path, got, 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	w, g := strings.Split(string(want), "\n"), strings.Split(string(got), "\n")
	for i := range min(len(w), len(g)) {
		require.Equal(t, w[i], g[i], "%s, line %d: run the test with -update and review the difference", path, i+1)
	}
	require.Len(t, g, len(w), path)
}

// Every bad document gives exactly the problems that were reviewed for it, and each problem says what was read and wanted.
func TestDecodeBadDocuments(t *testing.T) {
	files, err := filepath.Glob(testdata + "plans/bad/*.json")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	var b strings.Builder
	for _, file := range files {
		data, err := os.ReadFile(file)
		require.NoError(t, err)
		p, err := plan.Decode(data)
		require.Nil(t, p, file)
		var problems strict.Problems
		require.ErrorAs(t, err, &problems, file)
		b.WriteString(filepath.Base(file) + "\n")
		for _, x := range problems {
			assert.NotEmpty(t, x.Read, "%s %s", file, x.Pointer)
			assert.NotEmpty(t, x.Want, "%s %s", file, x.Pointer)
			b.WriteString("  " + x.Error() + "\n")
		}
	}
	golden(t, testdata+"plans/bad/problems.golden", []byte(b.String()))
}

func TestDecodeEncodeFixedPoint(t *testing.T) {
	for _, name := range []string{"plans/example.json", "plans/attic.json", "demo/plan.json"} {
		p := decode(t, name)
		once, err := p.Encode()
		require.NoError(t, err)
		again, err := plan.Decode(once)
		require.NoError(t, err)
		assert.Equal(t, p, again, name)
		twice, err := again.Encode()
		require.NoError(t, err)
		assert.Equal(t, string(once), string(twice), name)
	}
}

// A document with one byte changed, dropped or doubled is either refused with problems or still a plan that encodes.
func TestDecodeOfDamagedDocuments(t *testing.T) {
	whole := read(t, "plans/example.json")
	rapid.Check(t, func(t *rapid.T) {
		at := rapid.IntRange(0, len(whole)-1).Draw(t, "at")
		put := rapid.SampledFrom([]string{"", "0", "-", "e9", ".", "\"", "x", "}", "null", "1000000"}).Draw(t, "put")
		cut := rapid.IntRange(0, min(40, len(whole)-at)).Draw(t, "cut")
		data := append(append(append([]byte(nil), whole[:at]...), put...), whole[at+cut:]...)
		p, err := plan.Decode(data)
		if err != nil {
			if len(err.(strict.Problems)) == 0 {
				t.Fatal("an error without a problem")
			}
			return
		}
		out, err := p.Encode()
		if err != nil {
			t.Fatal(err)
		}
		if _, err = plan.Decode(out); err != nil {
			t.Fatal(err)
		}
	})
}

func FuzzDecode(f *testing.F) {
	f.Add(read(f, "plans/example.json"))
	f.Add(read(f, "plans/attic.json"))
	f.Add([]byte(`{}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := plan.Decode(data)
		if err != nil {
			return
		}
		once, err := p.Encode()
		require.NoError(t, err)
		again, err := plan.Decode(once)
		require.NoError(t, err)
		twice, err := again.Encode()
		require.NoError(t, err)
		require.Equal(t, string(once), string(twice))
	})
}

func TestLookups(t *testing.T) {
	p := decode(t, "demo/plan.json")
	assert.Equal(t, "Surround A", p.Model("Surround A").Name)
	assert.Nil(t, p.Model("Surround B"))
	assert.Equal(t, "Wall bracket", p.Bracket("Wall bracket").Name)
	assert.Equal(t, "Stud screw", p.Fixing("Stud screw").Name)
	assert.Equal(t, "Line cable", p.Cable("Line cable").Name)
	assert.Equal(t, 7, p.Amplifier("Amplifier 7").Channels)
	assert.Equal(t, plan.Laser, p.Instrument("laser").Kind)
	assert.Equal(t, "main seat", p.Primary().Name)
	assert.Equal(t, p.Primary(), p.Position(""))
	assert.Equal(t, "left seat", p.Position("left seat").Name)
	assert.Equal(t, "Sub A", p.MountByChannel("LFE1").Model)
	assert.Nil(t, p.MountByChannel("M+180"))
	assert.Equal(t, "4+7+0", p.Loudspeakers().Name)
	rated, least, ok := p.Model("Surround A").Load("fitted")
	assert.Equal(t, []any{4.0, 3.2, true}, []any{rated, least, ok})
	rated, _, ok = p.Model("Surround A").Load("")
	assert.Equal(t, []any{8.0, true}, []any{rated, ok})
	_, _, ok = p.Model("Surround A").Load("loose")
	assert.False(t, ok)
	for _, err := range []error{
		func() error { _, err := p.PlaceMount("M+180"); return err }(),
		func() error { _, err := p.Listener("nobody"); return err }(),
		func() error { _, err := p.Sight("M+030", "nobody"); return err }(),
		func() error { _, err := p.Pose("M+180"); return err }(),
	} {
		assert.ErrorIs(t, err, plan.ErrUnknown)
	}
}

func BenchmarkDecodeDemo(b *testing.B) {
	data := read(b, "demo/plan.json")
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := plan.Decode(data); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkEncodeDemo(b *testing.B) {
	p := decode(b, "demo/plan.json")
	b.ReportAllocs()
	for b.Loop() {
		if _, err := p.Encode(); err != nil {
			b.Fatal(err)
		}
	}
}
