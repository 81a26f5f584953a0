package plan_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist/plan"
	"hangtrue/checklist/strict"
)

const onePlace = `{"format":"hangtrue-measured/1","plan":"Two in a box","mounts":[{"channel":"M+030","along_m":["581 mm",0.582],"up_m":[1.2],` +
	`"height_m":[1.15],"distance_m":[2.4],"tilt_deg":[-0.1],"tape":"tape","laser":"laser","level":"level"}]}`

func TestDecodeMeasured(t *testing.T) {
	p := decode(t, "plans/example.json")
	m, err := plan.DecodeMeasured([]byte(onePlace), p)
	require.NoError(t, err)
	x := m.MountByChannel("M+030")
	assert.Equal(t, []float64{0.581, 0.582}, x.Along)
	assert.InDelta(t, -0.1*degree, x.Tilt[0], 1e-15)
	assert.Nil(t, m.MountByChannel("M-030"))
	once, err := m.Encode()
	require.NoError(t, err)
	again, err := plan.DecodeMeasured(once, p)
	require.NoError(t, err)
	assert.Equal(t, m, again)

	_, err = plan.DecodeMeasured([]byte(strings.Replace(onePlace, `"tape":"tape"`, `"tape":"laser"`, 1)), p)
	require.NoError(t, err, "a laser reads a length too")
}

func TestDecodeMeasuredNamesTheProblem(t *testing.T) {
	p := decode(t, "plans/example.json")
	many := "[" + strings.TrimSuffix(strings.Repeat("1,", plan.MaxReadings+1), ",") + "]"
	for name, row := range map[string]struct{ old, new, want string }{
		"format":          {"measured/1", "measured/2", `/format: read "hangtrue-measured/2", want "hangtrue-measured/1"`},
		"other plan":      {"Two in", "Ten in", `/plan: read "Ten in a box", want "Two in a box"`},
		"unknown channel": {"M+030", "M+090", `/mounts/0/channel: read "M+090", want one of "M+030", "M-030"`},
		"no reading":      {`[1.2]`, `[]`, `/mounts/0/up_m: read 0 readings, want 1 to 50 readings`},
		"many readings":   {`[1.2]`, many, `/mounts/0/up_m: read 51 readings, want 1 to 50 readings`},
		"not a length":    {`[1.2]`, `["tall"]`, `/mounts/0/up_m/0: read "tall", want a number with m, cm, mm, in or ft`},
		"no distance":     {`[2.4]`, `[0]`, `/mounts/0/distance_m/0: read 0, want a number above 0`},
		"unknown tape":    {`"tape":"tape"`, `"tape":"string"`, `/mounts/0/tape: read "string", want one of "tape", "laser", "level"`},
		"wrong kind":      {`"tape":"tape"`, `"tape":"level"`, `/mounts/0/tape: read "level", want one of tape, laser`},
		"no laser":        {`"laser":"laser",`, ``, `/mounts/0/laser: read nothing, want the instrument that was read`},
		"no level":        {`,"level":"level"`, ``, `/mounts/0/level: read nothing, want the instrument that was read`},
		"no tape":         {`"tape":"tape",`, ``, `/mounts/0/tape: read nothing, want a text`},
		"unknown key":     {`"up_m"`, `"upp_m":[1],"up_m"`, `/mounts/0/upp_m: read the unknown key "upp_m", want a known key; perhaps "up_m"`},
		"no mounts":       {onePlace, `{"format":"hangtrue-measured/1","mounts":[]}`, `/mounts: read 0 entries, want 1 to 500 entries`},
	} {
		t.Run(name, func(t *testing.T) {
			m, err := plan.DecodeMeasured([]byte(strings.Replace(onePlace, row.old, row.new, 1)), p)
			assert.Nil(t, m)
			assert.EqualError(t, err, row.want)
		})
	}
	first := onePlace[strings.Index(onePlace, `{"channel"`) : len(onePlace)-2]
	_, err := plan.DecodeMeasured([]byte(strings.Replace(onePlace, first, first+","+first, 1)), p)
	var problems strict.Problems
	require.ErrorAs(t, err, &problems)
	assert.Equal(t, `[/mounts/1/channel: read "M+030", want a name that entry 0 does not have]`, fmt.Sprint([]strict.Problem(problems)))
}
