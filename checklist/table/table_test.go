package table_test

import (
	"flag"
	"fmt"
	"math"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/rehearsal"
	"hangtrue/checklist/strict"
	"hangtrue/checklist/table"
)

var update = flag.Bool("update", false, "write golden files anew")

const testdata = "../../testdata/"

func read(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(testdata + name)
	require.NoError(t, err)
	return data
}

func demo(t testing.TB) *plan.Plan {
	t.Helper()
	p, err := plan.Decode(read(t, "demo/plan.json"))
	require.NoError(t, err)
	return p
}

func example(t testing.TB) *plan.Plan {
	t.Helper()
	p, err := plan.Decode(read(t, "plans/example.json"))
	require.NoError(t, err)
	return p
}

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	if *update {
		require.NoError(t, os.WriteFile(testdata+name, got, 0o644))
	}
	assert.Equal(t, string(read(t, name)), string(got), "run the test with -update and review the difference")
}

// without is a plan with other mounts than these.
func without(p *plan.Plan, mounts ...plan.Mount) *plan.Plan {
	q := *p
	q.Mounts = mounts
	return &q
}

func TestMounts_Demo(t *testing.T) {
	p := demo(t)
	data, err := table.WriteMounts(p)
	require.NoError(t, err)
	golden(t, "tables/mounts.csv", data)

	same, err := table.ReadMounts(data, p, table.Keep)
	require.NoError(t, err)
	assert.Equal(t, table.Mounts{Mounts: p.Mounts}, same)
	added, err := table.ReadMounts(data, without(p, p.Mounts[3]), table.Keep)
	require.NoError(t, err)
	assert.ElementsMatch(t, p.Mounts, added.Mounts)
	assert.Equal(t, "LFE1", added.Mounts[0].Channel, "the plan's own come first")
	assert.Len(t, added.Edited, len(p.Mounts)-1)
	assert.Contains(t, fmt.Sprint(added.Changes), "mount M+030: added")
}

// The same mounts as people type them: other columns' order, semicolons, decimal commas, what a tape says, blank rows.
func TestMounts_AsTyped(t *testing.T) {
	p := example(t)
	got, err := table.ReadMounts(read(t, "tables/mounts-as-typed.csv"), without(p), table.Keep)
	require.NoError(t, err)
	want := slices.Clone(p.Mounts)
	want[1].Up = 1.254125 // 49 3/8 in at 25.4 mm to the inch (international inch of 1959)
	want[1].OffAngle = "Two lines,\nand \"quotes\"."
	assert.Equal(t, want, got.Mounts)
}

func TestReadMounts_Merges(t *testing.T) {
	p := demo(t)
	got, err := table.ReadMounts([]byte("channel,along_m\nM+030,\"1' 1 3/8\"\"\"\nLFE1,0.42\n"), p, table.Keep)
	require.NoError(t, err)
	assert.Equal(t, []string{"M+030"}, got.Edited)
	require.Len(t, got.Changes, 1)
	assert.Equal(t, "mount M+030, hole along from the datum corner: 0.330 m becomes 0.340 m (10 mm more)", got.Changes[0].String())
	assert.Len(t, got.Left, 10)
	assert.Len(t, got.Mounts, 12)
	assert.Equal(t, 0.33, p.Mounts[0].Along, "the plan itself stays")
	assert.Equal(t, "Front A", got.Mounts[0].Model, "what has no column stays")

	got, err = table.ReadMounts([]byte("channel,off_angle_reason,bracket\nM+030,,Wall bracket\n"), p, table.Drop)
	require.NoError(t, err)
	assert.Len(t, got.Mounts, 1)
	assert.Len(t, got.Left, 11)
	assert.Contains(t, fmt.Sprint(got.Changes), "mount LFE1: removed")

	mine := *p
	mine.Mounts = slices.Clone(p.Mounts)
	mine.Mounts[0].OffAngle = "a pipe"
	got, err = table.ReadMounts([]byte("channel,off_angle_reason\nM+030,\n"), &mine, table.Keep)
	require.NoError(t, err)
	assert.Empty(t, got.Mounts[0].OffAngle, "an empty cell empties")
}

// Every column of a mount can be read and written, and a plan's new fields get one by themselves.
func TestMounts_EveryField(t *testing.T) {
	data, err := table.WriteMounts(without(demo(t)))
	require.NoError(t, err)
	header := strings.Split(strings.TrimSpace(string(data)), ",")
	for f := range reflect.TypeFor[plan.Mount]().NumField() {
		key, _, _ := strings.Cut(reflect.TypeFor[plan.Mount]().Field(f).Tag.Get("json"), ",")
		assert.Contains(t, header, key)
	}
}

func TestReadMounts_NamesTheProblem(t *testing.T) {
	const head = "channel,along_m,up_m,output,driver_bridge,off_angle_reason\n"
	for name, row := range map[string]struct{ file, want string }{
		"nothing":              {"", `the file: read nothing, want a header row with the names of the columns: channel, loudspeaker,`},
		"blank rows":           {"\n,,\n \n", `the file: read nothing, want a header row`},
		"a header alone":       {head, `the file: read a header and no rows, want a row below the header`},
		"no header":            {"M+030,0.33\n", `row 1: read "M+030", want a header row with the names of the columns: channel,`},
		"no channel column":    {"along_m\n1\n", `row 1: read no column "channel", want one: it says which mount a row is about`},
		"unknown column":       {"channel,allong_m\nM+030,1\n", `row 1, column "allong_m": read the unknown name "allong_m", want a known name; perhaps "along_m"`},
		"far unknown column":   {"channel,colour\nM+030,1\n", `row 1, column "colour": read the unknown name "colour", want one of channel, loudspeaker,`},
		"column twice":         {"channel,along_m,Along M\nM+030,1,1\n", `row 1, column "Along M": read the name a second time, want each column once`},
		"no channel":           {head + ",1,1\n", `row 2, column "channel": read nothing, want a text`},
		"channel twice":        {head + "M+030,0.33,1.2,1\n\nM+030,0.33,1.2,1\n", `row 4, column "channel": read "M+030", want a channel that row 2 does not have`},
		"not a length":         {head + "M+030,abc,1.2,1\n", `row 2, column "along_m": read "abc", want a length such as 1.254 or 49 3/8": a number with m, cm, mm, in or ft`},
		"no length":            {head + "M+030,,1.2,1\n", `row 2, column "along_m": read nothing, want a length such as 1.254 or 49 3/8"`},
		"two readings":         {head + "M+030,0.33; 0.34,1.2,1\n", `row 2, column "along_m": read "0.33; 0.34", want a length such as 1.254 or 49 3/8"`},
		"ambiguous length":     {"channel;along_m\nM+030;1,254 mm\n", `row 2, column "along_m": read "1,254 mm", want a length such as 1.254 or 49 3/8": no comma before three digits`},
		"two decimal marks":    {"channel;along_m\nM+030;1.254,5\n", `row 2, column "along_m": read "1.254,5", want a length such as 1.254 or 49 3/8": one decimal mark`},
		"hexadecimal":          {head + "M+030,0x1p-2,1.2,1\n", `row 2, column "along_m": read "0x1p-2", want a length`},
		"far off":              {head + "M+030,1e9,1.2,1\n", `row 2, column "along_m": read "1e9", want a length`},
		"not whole":            {head + "M+030,0.33,1.2,1.5\n", `row 2, column "output": read "1.5", want a whole number`},
		"too many cells":       {head + "M+030,0.33,1.2,1,,,,7\n", `row 2: read "7" in column 8, want nothing, or a name for the column in the header`},
		"far too many cells":   {head + "M+030" + strings.Repeat(",", 200) + "\n", `row 2: read more than 100 cells, want 6, as the header has`},
		"a quote left open":    {head + "M+030,0.33,\"1.2,1\nM-030,1\n", `row 2, column "up_m": read "1.2,1\nM-030,1\n", want a closing quote after the cell's opening one; a quote inside is doubled`},
		"text after a quote":   {head + "M+030,\"0.33\"m,1.2,1\n", `row 2, column "along_m": read "0.33\"m", want nothing between a cell's closing quote and the next cell`},
		"Latin-1":              {head + "M+030,0.33,1.2,1,,B\xfcro\n", `row 2, column "off_angle_reason": read "B\xfcro", want UTF-8 text: save the sheet as CSV in UTF-8`},
		"Latin-1 in a header":  {"channel,h\xf6he\nM+030,1\n", `row 1, column "h\xf6he": read "h\xf6he", want UTF-8 text`},
		"a zero byte":          {head + "M+030,0.33,1.2,1,,a\x00b\n", `row 2, column "off_angle_reason": read a zero byte, want UTF-8 text`},
		"UTF-16":               {"\xff\xfec\x00h\x00", `the file: read UTF-16 text, want UTF-8 text: save the sheet as CSV in UTF-8`},
		"a packed file":        {"PK\x03\x04\x00\x00\xff", `row 1: read "PK\x03\x04\x00\x00\xff", want a header row`},
		"a control character":  {head + "M+030,0.33,1.2,1,,a\ab\n", `row 2, column "off_angle_reason": read "a\ab", want no control characters`},
		"a direction mark":     {head + "M+030,0.33,1.2,1,,a\u202eb\n", `row 2, column "off_angle_reason": read "a\u202eb", want no control characters`},
		"too large":            {strings.Repeat(" ", strict.MaxSize+1), `the file: read 1048577 bytes, want at most 1048576 bytes`},
		"new without a column": {head + "U+000,1,1,13\n", `row 2: read no column "loudspeaker", "surface", "cable", "route_m", want one: this mount is new to the plan`},
		// What package plan finds:
		"off the wall":        {head + "M+030,9,1.2,1\n", `row 2, column "along_m": read hole 1 at 9.000 m along`},
		"unknown setting":     {head + "M+090,2.331,1.2,5,half\n", `row 2, column "driver_bridge": read "half", want one of "fitted", "open"`},
		"output taken":        {head + "M+030,0.33,1.2,2\nM-030,4.57,1.2,2\n", `row 3, column "output": read 2, want an output that M+030 does not use`},
		"output of another's": {head + "M+030,0.33,1.2,5\n", `mount M+090, which the file does not list, output: read 5, want an output that M+030 does not use`},
		"name of the file":    {"Channel,Along M\nM+030,9\n", `row 2, column "Along M": read`},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := table.ReadMounts([]byte(row.file), demo(t), table.Keep)
			require.Error(t, err)
			assert.Empty(t, got)
			assert.True(t, strings.HasPrefix(err.Error(), row.want), "got  %s\nwant %s", err, row.want)
			assert.NotContains(t, err.Error(), "\n", "one slip, one problem")
		})
	}
}

func TestReadMounts_NamesAllProblemsInOrder(t *testing.T) {
	_, err := table.ReadMounts([]byte("channel;along_m;output;foo\nM-030;x;y\nM+030;1,5 m;\n;1;1\n"), demo(t), table.Keep)
	assert.EqualError(t, err, strings.Join([]string{
		`row 1, column "foo": read the unknown name "foo", want one of channel, loudspeaker, bracket, surface, along_m, up_m, stand_m, fixing, driver_bridge, cable, route_m, output, amplifier, amplifier_channel, off_angle_reason, aim_at`,
		`row 2, column "along_m": read "x", want a length such as 1.254 or 49 3/8": a number with m, cm, mm, in or ft`,
		`row 2, column "output": read "y", want a whole number`,
		`row 3, column "output": read nothing, want a whole number`,
		`row 4, column "channel": read nothing, want a text`,
	}, "\n"))

	_, err = table.ReadMounts([]byte("channel,along_m\n"+strings.Repeat("M+030,x\n", 5000)), demo(t), table.Keep)
	var problems table.Problems
	require.ErrorAs(t, err, &problems)
	require.Len(t, problems, strict.MaxProblems+1)
	assert.Equal(t, "the file: read more than 200 problems, want these put right first", problems[strict.MaxProblems].Error())
}

// A plan that is not finished takes a file: only what the file makes wrong is told.
func TestReadMounts_IntoAnUnfinishedPlan(t *testing.T) {
	p := demo(t)
	p.Mounts[1].Cable, p.Mounts[2].Output = "nowhere to be had", 1
	got, err := table.ReadMounts([]byte("channel,along_m\nM+030,0.34\n"), p, table.Keep)
	require.NoError(t, err)
	assert.Equal(t, []string{"M+030"}, got.Edited)
	_, err = table.ReadMounts([]byte("channel,along_m\nM+030,9\n"), p, table.Keep)
	assert.ErrorContains(t, err, `row 2, column "along_m"`)
	assert.NotContains(t, err.Error(), "nowhere")
}

// What a spreadsheet must not take for a formula (OWASP ASVS 5.0, 1.2.10), and what it may.
func TestGuard(t *testing.T) {
	for _, row := range []struct{ text, cell string }{
		{"=1+1", "'=1+1"}, {"+030", "'+030"}, {"-", "'-"}, {"@SUM(A1)", "'@SUM(A1)"}, {"\tx", "'\tx"}, {"\rx", "'\rx"}, {"\x00", "'\x00"},
		{"  =1", "'  =1"}, {"\n=1", "'\n=1"}, {"＝1", "'＝1"}, {"'=1", "''=1"}, {"''-", "'''-"},
		{"M+030", "M+030"}, {"LFE1", "LFE1"}, {"'quoted'", "'quoted'"}, {"", ""}, {"'", "'"}, {"a=b", "a=b"},
	} {
		assert.Equal(t, row.cell, table.Guard(row.text))
		assert.Equal(t, row.text, table.Unguard(row.cell))
	}
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringOf(rapid.SampledFrom([]rune("'=+-@\t\r\x00＝ \na1"))).Draw(t, "text")
		cell := table.Guard(text)
		assert.Equal(t, text, table.Unguard(cell))
		assert.NotRegexp(t, "^[ \n]*[=+@\t\r\x00＝-]", cell)
	})
}

// texts are what somebody may have written into a plan, or wants to do to who opens the table.
func texts() *rapid.Generator[string] {
	return rapid.OneOf(
		rapid.SampledFrom([]string{"", "-", "'", "=cmd", "'=1", "a;b", "1,5", `49 3/8"`, "“Büro”", "sep=;", "a\nb", `"`, `""`, "ends in a space ", " "}),
		rapid.StringOf(rapid.SampledFrom([]rune("ab'\"=+-@,;\n 1é"))),
	)
}

// Any mounts read back to the same, to the micrometre and the letter, whether or not their plan is sound.
func TestMounts_ReadBack(t *testing.T) {
	sound := demo(t)
	rapid.Check(t, func(t *rapid.T) {
		p := without(sound)
		length := rapid.Map(rapid.Int64Range(-1_000_000_000, 1_000_000_000), func(um int64) float64 { return float64(um) / 1e6 })
		name := rapid.Map(texts(), strings.TrimSpace)
		for i := range rapid.IntRange(1, 6).Draw(t, "mounts") {
			p.Mounts = append(p.Mounts, plan.Mount{
				Channel: fmt.Sprint(i, name.Draw(t, "channel"), "."), Model: "x" + name.Draw(t, "model"), Bracket: name.Draw(t, "bracket"), Surface: "=" + name.Draw(t, "surface"),
				Along: length.Draw(t, "along"), Up: length.Draw(t, "up"), Stand: length.Draw(t, "stand"), Fixing: name.Draw(t, "fixing"),
				Bridge: name.Draw(t, "bridge"), Cable: "-" + name.Draw(t, "cable"), Route: length.Draw(t, "route"), Output: rapid.IntRange(-5, 500).Draw(t, "output"),
				Amplifier: name.Draw(t, "amplifier"), AmpChannel: rapid.IntRange(-1, 9).Draw(t, "amplifier channel"), OffAngle: texts().Draw(t, "reason"), AimAt: name.Draw(t, "aim"),
			})
		}
		data, err := table.WriteMounts(p)
		require.NoError(t, err)
		got, err := table.ReadMounts(data, p, table.Keep)
		require.NoError(t, err)
		assert.Equal(t, p.Mounts, got.Mounts)
		assert.Empty(t, got.Edited)
	})
}

// What is written of a plan makes that plan of another one.
func TestMounts_OntoAnother(t *testing.T) {
	before := demo(t)
	rapid.Check(t, func(t *rapid.T) {
		p := without(before, slices.Clone(before.Mounts)...)
		micrometres := func(least, most int64, label string) float64 {
			return float64(rapid.Int64Range(least, most).Draw(t, label)) / 1e6
		}
		for i := range p.Mounts {
			m := &p.Mounts[i]
			m.Route, m.OffAngle = micrometres(1, 1_000_000_000, "route"), texts().Draw(t, "reason")
			if m.Bracket == "" {
				m.Stand = micrometres(1, 500_000, "stand")
			}
			if i < 2 { // between the window and the corners
				m.Along += micrometres(-50_000, 50_000, "along")
				m.Up += micrometres(-200_000, 200_000, "up")
			}
		}
		_, err := plan.Decode(encode(t, p))
		require.NoError(t, err)
		data, err := table.WriteMounts(p)
		require.NoError(t, err)
		got, err := table.ReadMounts(data, before, table.Keep)
		require.NoError(t, err)
		assert.Equal(t, encode(t, p), encode(t, without(before, got.Mounts...)))
	})
}

func TestWriteMounts_Refuses(t *testing.T) {
	for _, x := range []float64{math.NaN(), math.Inf(1), 1000.1} {
		p := demo(t)
		p.Mounts[0].Along = x
		_, err := table.WriteMounts(p)
		assert.ErrorContains(t, err, "along_m")
	}
}

func TestMeasured_Demo(t *testing.T) {
	p := demo(t)
	want, err := plan.DecodeMeasured(read(t, "demo/measured.json"), p)
	require.NoError(t, err)
	data, err := table.WriteMeasured(want)
	require.NoError(t, err)
	golden(t, "tables/measured.csv", data)
	got, err := table.ReadMeasured(data, p)
	require.NoError(t, err)
	assert.Equal(t, want.Mounts, got.Mounts)
}

// Repeat readings in rows of their own, in one cell, and as a tape has them.
func TestReadMeasured_Rows(t *testing.T) {
	p := example(t)
	got, err := table.ReadMeasured(read(t, "tables/measured-in-rows.csv"), p)
	require.NoError(t, err)
	degree := math.Pi / 180
	assert.Equal(t, []plan.MeasuredMount{
		{Channel: "M+030", Along: []float64{0.581, 0.582, 0.5812}, Up: []float64{1.2, 1.201}, Height: []float64{1.15}, Distance: []float64{2.4, 2.401},
			Tilt: []float64{-0.1 * degree}, Tape: "tape", Laser: "laser", Level: "level"},
		{Channel: "M-030", Along: []float64{3.019}, Up: []float64{1.2}, Tape: "laser"},
	}, got.Mounts)
}

func TestReadMeasured_NamesTheProblem(t *testing.T) {
	const head = "channel,along_m,up_m,distance_m,tilt_deg,tape,laser,level\n"
	for name, row := range map[string]struct{ file, want string }{
		"unknown channel":  {head + "M+090,1,1,,,tape\n", `row 2, column "channel": read "M+090", want one of "M+030", "M-030"`},
		"no reading":       {head + "M+030,1,,,,tape\n", `row 2, column "up_m": read 0 readings, want 1 to 50 readings`},
		"many readings":    {head + "M+030,1,\"" + strings.Repeat("1;", 51) + "\",,,tape\n", `row 2, column "up_m": read 51 readings, want 1 to 50 readings`},
		"not a length":     {head + "M+030,1,1; tall,,,tape\n", `row 2, column "up_m": read "1; tall", want a length such as 1.254 or 49 3/8"`},
		"not an angle":     {head + "M+030,1,1,,1 m,tape\n", `row 2, column "tilt_deg": read "1 m", want degrees from -360 to 360, such as -36.8`},
		"more than a turn": {head + "M+030,1,1,,361,tape\n", `row 2, column "tilt_deg": read "361", want degrees from -360 to 360`},
		"no distance":      {head + "M+030,1,1,1,,tape,laser\nM+030,1,1,0\n", `row 3, column "distance_m": read 0, want a number above 0`},
		"no tape":          {head + "M+030,1,1\n", `row 2, column "tape": read nothing, want the instrument that was read`},
		"no laser":         {head + "M+030,1,1,2,,tape\n", `row 2, column "laser": read nothing, want the instrument that was read`},
		"wrong kind":       {head + "M+030,1,1\nM+030,1,1,,,level\n", `row 3, column "tape": read "level", want one of tape, laser`},
		"two instruments":  {head + "M+030,1,1,,,tape\nM+030,1,1,,,laser\n", `row 3, column "tape": read "laser", want "tape", as in row 2: one instrument for all readings of a channel`},
		"a missing column": {"channel,along_m,tape\nM+030,1,tape\n", `row 1: read no column "up_m", want one: every mount has it`},
		"missing columns":  {"channel,along_m\nM+030,1\n", `row 1: read no column "up_m", "tape", want one: every mount has it`},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := table.ReadMeasured([]byte(row.file), example(t))
			require.Error(t, err)
			assert.Nil(t, got)
			assert.True(t, strings.HasPrefix(err.Error(), row.want), "got  %s\nwant %s", err, row.want)
			assert.NotContains(t, err.Error(), "\n", "one slip, one problem")
		})
	}
}

func TestMeasured_ReadBack(t *testing.T) {
	p := demo(t)
	rapid.Check(t, func(t *rapid.T) {
		lengths := rapid.SliceOfN(rapid.Map(rapid.Int64Range(1, 1_000_000_000), func(um int64) float64 { return float64(um) / 1e6 }), 1, 4)
		angles := rapid.SliceOfN(rapid.Map(rapid.Int64Range(-90_000, 90_000), func(mdeg int64) float64 { return float64(mdeg) / 1e3 * (math.Pi / 180) }), 1, 3)
		m := &plan.Measured{Format: plan.MeasuredFormat}
		for _, x := range p.Mounts[:rapid.IntRange(1, len(p.Mounts)).Draw(t, "mounts")] {
			m.Mounts = append(m.Mounts, plan.MeasuredMount{Channel: x.Channel, Along: lengths.Draw(t, "along"), Up: lengths.Draw(t, "up"), Height: lengths.Draw(t, "height"),
				Distance: lengths.Draw(t, "distance"), Tilt: angles.Draw(t, "tilt"), Tape: "tape 8 m", Laser: "laser", Level: "level 600"})
		}
		document, err := m.Encode()
		require.NoError(t, err)
		want, err := plan.DecodeMeasured(document, p)
		require.NoError(t, err)
		data, err := table.WriteMeasured(want)
		require.NoError(t, err)
		got, err := table.ReadMeasured(data, p)
		require.NoError(t, err)
		assert.Equal(t, want, got)
	})
}

const (
	job   = "018f3c5e-7a10-7000-8000-0000000000a1"
	phone = "018f3c5e-7a10-7000-8000-00000000d001"
)

// What a job done as planned holds is the plan's own places, and reads back as a measured file in both forms. A mount
// whose hole was only marked has its hole alone; one that was marked again has nothing of what hung before.
func TestRecorded(t *testing.T) {
	p := demo(t)
	site := rehearsal.NewSite(job, phone)
	assert.Nil(t, table.Recorded(site.State))
	require.NoError(t, site.Open(p))
	assert.Empty(t, table.Recorded(site.State).Mounts)
	require.NoError(t, site.Finish())

	got := table.Recorded(site.State)
	require.Len(t, got.Mounts, len(p.Mounts))
	for i, m := range got.Mounts {
		want := p.Mounts[i]
		assert.Equal(t, want.Channel, m.Channel)
		assert.InDeltaSlice(t, []float64{want.Along}, m.Along, 0.5e-6, want.Channel)
		assert.InDeltaSlice(t, []float64{want.Up}, m.Up, 0.5e-6, want.Channel)
		pose, err := p.Pose(want.Channel)
		require.NoError(t, err)
		assert.InDeltaSlice(t, []float64{pose.Centre.Z}, m.Height, 1e-6, want.Channel)
	}
	document, err := got.Encode()
	require.NoError(t, err)
	again, err := plan.DecodeMeasured(document, p)
	require.NoError(t, err)
	data, err := table.WriteMeasured(got)
	require.NoError(t, err)
	fromCSV, err := table.ReadMeasured(data, p)
	require.NoError(t, err)
	assert.Equal(t, again.Mounts, fromCSV.Mounts)

	marked, err := rehearsal.Recording(p, "mark", "M+090")
	require.NoError(t, err)
	marked.Measured["along_um"] = []int64{2_331_000, 2_332_000}
	require.NoError(t, site.Do(checklist.StepReopened, checklist.Reasoned{Step: "mark", Mount: "M+090", Reason: "the hole has moved"}))
	require.NoError(t, site.Do(checklist.StepRecorded, marked))
	m := table.Recorded(site.State).MountByChannel("M+090")
	assert.Equal(t, []float64{2.331, 2.332}, m.Along)
	assert.Empty(t, m.Distance)
	assert.Empty(t, m.Laser)
}

// Whatever the bytes: no panic, problems that are bounded, and what was read is written and read back the same.
func FuzzReadMounts(f *testing.F) {
	f.Add(read(f, "tables/mounts.csv"))
	f.Add(read(f, "tables/mounts-as-typed.csv"))
	f.Add([]byte("sep=\t\nchannel\talong_m\nM+030\t1,5E-02"))
	p := demo(f)
	f.Fuzz(func(t *testing.T, data []byte) {
		got, err := table.ReadMounts(data, p, table.Keep)
		if err != nil {
			var problems table.Problems
			require.ErrorAs(t, err, &problems)
			require.LessOrEqual(t, len(problems), strict.MaxProblems+1)
			return
		}
		after := without(p, got.Mounts...)
		_, err = plan.Decode(encode(t, after))
		require.NoError(t, err, "what was taken is sound")
		written, err := table.WriteMounts(after)
		require.NoError(t, err)
		again, err := table.ReadMounts(written, p, table.Keep)
		require.NoError(t, err)
		require.Equal(t, got.Mounts, again.Mounts)
	})
}

func FuzzReadMeasured(f *testing.F) {
	f.Add(read(f, "tables/measured.csv"))
	f.Add([]byte("channel;along_m;up_m;tape;tilt_deg;level\nM+030;0,331;1,2;tape 8 m;-1;level 600\n"))
	p := demo(f)
	f.Fuzz(func(t *testing.T, data []byte) {
		got, err := table.ReadMeasured(data, p)
		if err != nil {
			return
		}
		written, err := table.WriteMeasured(got)
		require.NoError(t, err)
		again, err := table.ReadMeasured(written, p)
		require.NoError(t, err)
		require.Equal(t, got, again)
	})
}

func encode(t require.TestingT, p *plan.Plan) []byte {
	data, err := p.Encode()
	require.NoError(t, err)
	return data
}
