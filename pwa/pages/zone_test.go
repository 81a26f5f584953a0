package pages_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/checklist"
	"hangtrue/pwa/pages"
)

// remembering is a site whose pages remember the zone of the page before.
type remembering struct {
	*site
	zones pages.Zones
}

func (r *remembering) Job(id string) (*pages.Job, bool) {
	j, ok := r.site.Job(id)
	if ok {
		j.Zones = &r.zones
	}
	return j, ok
}

// Whatever was shown before, and whatever has happened since, a page and what is typed
// on it are drawn with the zone that is worked out anew.
func TestZones(t *testing.T) {
	channels := []string{"M+090", "U+045"}
	rapid.Check(t, func(t *rapid.T) {
		s := studAt(t, 2.40)
		s.all("U+045", "level")
		r := &remembering{site: s}
		for range 12 {
			k := checklist.Key{Step: rapid.SampledFrom([]string{"mark", "studs", "level"}).Draw(t, "step"), Mount: rapid.SampledFrom(channels).Draw(t, "mount")}
			switch rapid.IntRange(0, 6).Draw(t, "what") {
			case 0:
				b := s.good("studs", k.Mount)
				b.Measured["centre_um"] = []int64{um(rapid.SampledFrom([]float64{2.38, 2.40, 2.42}).Draw(t, "found"))}
				s.send(checklist.StepRecorded, b)
			case 1:
				document := demoPlan(t)
				if rapid.Bool().Draw(t, "imperial") {
					document = imperial(t)
				}
				s.accepted(checklist.PlanSettled, checklist.NewSettlement(s.log.State().Revision()+1, "another", document))
			case 2, 3:
				form := typedAs(s.good(k.Step, k.Mount))
				require.Equal(t, pages.Draft(path(k), form, s), pages.Draft(path(k), form, r))
			default:
				at := path(k)
				if rapid.Bool().Draw(t, "all of the mount") {
					at = "/jobs/" + jobID + "/mounts/" + k.Mount
				}
				require.Equal(t, pages.Render(at, s).Fragment(), pages.Render(at, r).Fragment())
			}
		}
	})
}
