package checklist_test

import (
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
)

// The eight steps of a mount are there in their order, each held by the one before.
func TestTemplateMountSteps(t *testing.T) {
	var got []string
	for _, step := range checklist.Loudspeakers.Steps {
		if step.Scope == checklist.PerMount {
			got = append(got, step.ID)
		}
	}
	assert.Equal(t, []string{"mark", "level", "studs", "drill", "wire", "bridges", "hang", "polarity"}, got)
	for i, id := range got[1:] {
		assert.Contains(t, checklist.Loudspeakers.Step(id).After, got[i], "%s comes after %s", id, got[i])
	}
}

// Where the work can hurt someone the step has its cautions, and drilling is held
// until they are confirmed.
func TestTemplateCautions(t *testing.T) {
	for step, cautions := range map[string][]string{
		"drill":    {"hidden", "power-off", "old-materials", "dust", "eyes", "ladder"},
		"hang":     {"lift", "fall", "ladder", "load"},
		"wire":     {"amplifier-off", "in-wall"},
		"bridges":  {"amplifier-off"},
		"polarity": {"loud"},
		"channels": {"loud"},
		"isolate":  {"mains"},
		"rack":     {"mains"},
		"studs":    {"hidden", "load"},
	} {
		assert.Subset(t, checklist.Loudspeakers.Step(step).Cautions, cautions, step)
	}
	assert.Equal(t, checklist.Loudspeakers.Step("drill").Cautions, checklist.Loudspeakers.Step("drill").Confirm)
	for id, c := range checklist.Loudspeakers.Cautions {
		assert.NotEmpty(t, c.Source, id)
	}
}

func TestParseTemplateRefuses(t *testing.T) {
	data, err := os.ReadFile("steps.json")
	require.NoError(t, err)
	require.True(t, json.Valid(data))
	version := fmt.Sprintf(`"version": %d`, checklist.Loudspeakers.Version)
	for _, row := range []struct{ name, old, with, says string }{
		{"an unknown key", version, version + `, "colour": "red"`, "unknown key"},
		{"no edition", version, `"version": 0`, "/version is 0, wanted 1 or more"},
		{"a step that waits for a later one", `"after": ["plan"], "rests_on": ["plan"]`, `"after": ["mark"], "rests_on": ["plan"]`, "not a step before this one"},
		{"an id twice", `"id": "level", "scope"`, `"id": "mark", "scope"`, "an id of its own"},
		{"a caution that is none", `"cautions": ["ladder"]`, `"cautions": ["ghosts"]`, `no caution "ghosts"`},
		{"a check that is none", `"checks": ["level.line"]`, `"checks": ["level.guess"]`, `no check "level.guess"`},
		{"an input that is none", `"inputs": ["room"]`, `"inputs": ["weather"]`, `no plan input "weather"`},
		{"a part that is none", `"needs": ["fixing"]`, `"needs": ["luck"]`, `no mount needs a "luck"`},
		{"a scope that is none", `"id": "level", "scope": "mount"`, `"id": "level", "scope": "wall"`, "wanted job or mount"},
		{"a quantity that is none", `"quantity": "current"`, `"quantity": "luck"`, "has no quantity"},
	} {
		t.Run(row.name, func(t *testing.T) {
			changed := strings.Replace(string(data), row.old, row.with, 1)
			require.NotEqual(t, string(data), changed)
			_, err := checklist.ParseTemplate([]byte(changed))
			require.Error(t, err)
			assert.Contains(t, err.Error(), row.says)
		})
	}
}
