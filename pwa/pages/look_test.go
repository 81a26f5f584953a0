package pages_test

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/pwa/pages"
)

var look = flag.String("look", "", "write pages of the demo job into this folder, to be looked at in a browser")

// TestLook writes pages to be looked at; without -look it only sees that they are there.
func TestLook(t *testing.T) {
	style, err := filepath.Abs("../static/hangtrue.css")
	require.NoError(t, err)
	all := morePlaces(t)
	base := "/jobs/" + jobID
	for name, page := range map[string]struct {
		state, path string
		change      func(*site)
		typed       pages.Form
	}{
		"jobs":              {state: "half", path: "/"},
		"you":               {state: "half", path: "/you"},
		"you-server":        {state: "half", path: "/you", change: func(s *site) { s.device = pages.Device{} }},
		"job-fresh":         {state: "fresh", path: base},
		"job":               {state: "half", path: base},
		"job-trouble":       {state: "trouble", path: base},
		"job-signed":        {state: "signed", path: base},
		"mount":             {state: "half", path: base + "/mounts/M+090"},
		"mark-empty":        {state: "half", path: base + "/mounts/M-090/mark"},
		"mark-typing":       {state: "half", path: base + "/mounts/M-090/mark", typed: pages.Form{"act": {"record"}, "tape": {"tape 8 m"}, "along_um": {"3.787"}, "up_um": {"1.196"}}},
		"mark-wrong":        {state: "half", path: base + "/mounts/M-090/mark", typed: pages.Form{"act": {"record"}, "tape": {"tape 8 m"}, "along_um": {"3787"}, "up_um": {"1.2oo"}}},
		"mark-done":         {state: "half", path: base + "/mounts/M+090/mark"},
		"mark-outside":      {state: "half", path: base + "/mounts/U-045/mark"},
		"mark-unsure":       {state: "half", path: base + "/mounts/M+000/mark"},
		"mark-conceded":     {state: "trouble", path: base + "/mounts/M+000/mark"},
		"mark-pending":      {state: "trouble", path: base + "/mounts/M+090/mark"},
		"mark-reader":       {state: "half", path: base + "/mounts/M-090/mark", change: func(s *site) { s.device = pages.Device{} }},
		"level":             {state: "half", path: base + "/mounts/M+135/level"},
		"level-stale":       {state: "trouble", path: base + "/mounts/M+030/level"},
		"studs":             {state: "half", path: base + "/mounts/M+090/studs"},
		"drill":             {state: "half", path: base + "/mounts/M+090/drill"},
		"drill-held":        {state: "half", path: base + "/mounts/M+135/drill"},
		"wire-held":         {state: "fresh", path: base + "/mounts/M+090/wire"},
		"hang-slip":         {state: "half", path: base + "/mounts/M-135/hang"},
		"hang-slip-install": {state: "half", path: base + "/mounts/M-135/hang", change: func(s *site) { s.device.Role = checklist.Installer }},
		"studs-empty":       {state: "midway", path: base + "/mounts/M+090/studs"},
		"wire-empty":        {state: "midway", path: base + "/mounts/U+045/wire"},
		"bridges-empty":     {state: "midway", path: base + "/mounts/M-135/bridges"},
		"hang-empty":        {state: "midway", path: base + "/mounts/M-090/hang"},
		"polarity-empty":    {state: "midway", path: base + "/mounts/M+135/polarity"},
		"rack":              {state: "fresh", path: base + "/steps/rack"},
		"channels":          {state: "finished", path: base + "/steps/channels"},
		"survey":            {state: "fresh", path: base + "/steps/survey"},
		"sign":              {state: "finished", path: base + "/steps/sign"},
		"sign-held":         {state: "half", path: base + "/steps/sign"},
		"record":            {state: "signed", path: base + "/record"},
		"record-half":       {state: "half", path: base + "/record"},
		"wall-left":         {state: "half", path: base + "/walls/left"},
		"wall-ceiling":      {state: "half", path: base + "/walls/ceiling"},
		"missing":           {state: "half", path: base + "/nowhere"},
		"drawings":          {state: "half", path: base + "/drawings"},
		"drawings-seat":     {state: "half", path: base + "/drawings/left%20seat"},
		"wiring":            {state: "half", path: base + "/wiring"},
		"rack-sheet":        {state: "half", path: base + "/rack"},
		"sound":             {state: "half", path: base + "/sound"},
		"paper":             {state: "half", path: base + "/paper"},
		"calibration":       {state: "distances", path: base + "/steps/calibration"},
		"calibration-swap":  {state: "distances", path: base + "/steps/calibration", typed: typedAs(all["distances"].reported("M+090", "M+135"))},
		"studs-elsewhere":   {state: "moved", path: base + "/mounts/M+090/studs"},
		"studs-nowhere":     {state: "nowhere", path: base + "/mounts/M+090/studs"},
		"drill-masonry":     {state: "ready", path: base + "/mounts/M-090/drill"},
		"drill-wood":        {state: "ready", path: base + "/mounts/U+045/drill"},
		"mount-standing":    {state: "half", path: base + "/mounts/LFE1"},
		"mark-floor":        {state: "half", path: base + "/mounts/LFE1/mark"},
		"wire-masonry":      {state: "ready", path: base + "/mounts/M-030/wire"},
	} {
		s := *all[page.state]
		if page.change != nil {
			page.change(&s)
		}
		d := pages.Render(page.path, &s)
		html := d.Page(pages.Assets{Style: "file://" + style})
		for id, inner := range pages.Draft(page.path, page.typed, &s) {
			html = refill(html, id, inner)
		}
		for key, values := range page.typed {
			if len(values) == 0 {
				continue
			}
			html = strings.Replace(html, `id="f-`+key+`"`, `value="`+values[0]+`" id="f-`+key+`"`, 1)
		}
		if *look != "" {
			html = strings.Replace(html, `<script type="module" src=""></script>`, "", 1)
			require.NoError(t, os.WriteFile(filepath.Join(*look, name+".html"), []byte(html), 0o644))
		}
	}
}

// refill does what the script on the phone does with a draft.
func refill(html, id, inner string) string {
	at := strings.Index(html, `id="`+id+`"`)
	if at < 0 {
		return html
	}
	start := at + strings.Index(html[at:], ">") + 1
	end := "</p>"
	switch id {
	case "elevation":
		end = "</figure>"
	case "verdict":
		end = "</div>"
	}
	return html[:start] + inner + html[start+strings.Index(html[start:], end):]
}
