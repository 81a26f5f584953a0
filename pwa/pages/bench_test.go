package pages_test

import (
	"testing"

	"hangtrue/checklist"
	"hangtrue/pwa/pages"
)

// What a phone does between a tap and the new page, without the browser's part:
// go test ./pwa/pages -run '^$' -bench .
func BenchmarkRender(b *testing.B) {
	s := states(b)["half"]
	for name, path := range map[string]string{
		"job": "/jobs/" + jobID, "step": path(checklist.Key{Step: "mark", Mount: "M-090"}), "record": "/jobs/" + jobID + "/record",
		"studs": path(checklist.Key{Step: "studs", Mount: "M-135"}), "standing": path(checklist.Key{Step: "mark", Mount: "LFE1"}), "mount": "/jobs/" + jobID + "/mounts/M+090",
		"wiring": "/jobs/" + jobID + "/wiring", "drawings": "/jobs/" + jobID + "/drawings", "rack": "/jobs/" + jobID + "/rack", "sound": "/jobs/" + jobID + "/sound",
	} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				pages.Render(path, s).Fragment()
			}
		})
	}
}

func BenchmarkDraft(b *testing.B) {
	s := states(b)["half"]
	k := checklist.Key{Step: "hang", Mount: "M-135"}
	form := typedAs(s.slipped("M-135", 5.933))
	for b.Loop() {
		pages.Draft(path(k), form, s)
	}
}
