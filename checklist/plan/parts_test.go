package plan_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/checklist/plan"
	"hangtrue/checklist/strict"
)

var documents = []string{"demo/plan.json", "plans/example.json", "plans/attic.json"}

func TestPartsMakeThePlanAgain(t *testing.T) {
	for _, name := range documents {
		p := decode(t, name)
		parts, err := p.Parts()
		require.NoError(t, err)
		assert.Equal(t, p, plan.Assemble(parts), name)
		assert.Empty(t, p.Problems(), name)
		for _, part := range parts {
			assert.NoError(t, plan.CheckPart(part), part.Name)
		}
	}
}

// Whatever is missing, nothing fails, and what Decode says of the document is among the problems.
func TestProblemsOfAnUnfinishedPlan(t *testing.T) {
	read := map[string]*plan.Plan{}
	for _, name := range documents {
		read[name] = decode(t, name)
	}
	rapid.Check(t, func(t *rapid.T) {
		p := read[rapid.SampledFrom(documents).Draw(t, "document")]
		parts, err := p.Parts()
		require.NoError(t, err)
		var kept []plan.Part
		for _, part := range parts {
			if rapid.IntRange(0, 3).Draw(t, part.Name) > 0 {
				kept = append(kept, part)
			}
		}
		unfinished := plan.Assemble(kept)
		problems := unfinished.Problems()
		data, err := unfinished.Encode()
		require.NoError(t, err)
		_, err = plan.Decode(data)
		assert.Equal(t, err == nil, problems.Err() == nil, "%v\n%v", err, problems)
		var said strict.Problems
		if err != nil {
			require.ErrorAs(t, err, &said)
		}
		assert.Subset(t, problems, said)
	})
}

func TestProblemsTellWhatPartsSayOfEachOther(t *testing.T) {
	p := decode(t, "plans/example.json")
	p.Mounts, p.Listening[0].Ear = nil, [3]float64{-1, 1, 1}
	said := p.Problems().Error()
	assert.Contains(t, said, "/mounts: read 0 entries")
	assert.Contains(t, said, "an ear point inside the room")
}

func TestCheckPartNamesTheProblem(t *testing.T) {
	for value, want := range map[string]string{
		`{"name":"wire","conductor":"14 AWG"}`:  "",
		`{"name":"wire", "conductor":"14 AWG"}`: "as this program writes it",
		`{"name":"rope","conductor":"14 AWG"}`:  `read "rope", want the name it goes by, "wire"`,
		`{"name":"wire"}`:                       `/conductor: read nothing`,
		`{"name":"wire","conducts":"x"}`:        `/conducts`,
		`[]`:                                    "want",
		``:                                      "want",
	} {
		err := plan.CheckPart(plan.Part{Name: "cable/wire", Value: value})
		if want == "" {
			assert.NoError(t, err)
		} else {
			assert.ErrorContains(t, err, want, value)
		}
	}
	for _, name := range []string{"", "rope", "cable", "cable/", "rack/1", "room/box", "mounts"} {
		assert.ErrorIs(t, plan.CheckPart(plan.Part{Name: name, Value: `{}`}), plan.ErrPart, name)
	}
}

// Every problem of a bad document lies in a part, and the part's own pointer finds the value that was read.
func TestPartAt(t *testing.T) {
	p := decode(t, "demo/plan.json")
	for pointer, want := range map[string][2]string{
		"/title": {"about", "/title"}, "/units": {"about", "/units"}, "": {"about", ""},
		"/room": {"room", ""}, "/room/box/width_m": {"room", "/width_m"},
		"/room/surfaces/0":                    {"surface/" + p.Room.Surfaces[0].Name, ""},
		"/room/surfaces/1/openings/0/width_m": {"surface/" + p.Room.Surfaces[1].Name, "/openings/0/width_m"},
		"/mounts":                             {"mount", ""}, "/mounts/3/up_m": {"mount/" + p.Mounts[3].Channel, "/up_m"}, "/mounts/99": {"mount", ""},
		"/rack/units": {"rack", "/units"}, "/sound/slope": {"sound", "/slope"}, "/rackets": {"about", "/rackets"},
	} {
		part, rest := p.PartAt(pointer)
		assert.Equal(t, want, [2]string{part, rest}, pointer)
	}
	parts, err := p.Parts()
	require.NoError(t, err)
	kinds := map[string]bool{}
	for _, part := range parts {
		kind, _, _ := strings.Cut(part.Name, "/")
		kinds[kind] = true
	}
	assert.Len(t, kinds, 15, "the demo has a part of every kind but survey and shape")
}
