package main_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/pwa/browsertest"
)

// Two leads with a phone each lose the server and change the same wall, and answer the
// same step otherwise. When the server is back, both phones show the same job: the one
// edit and, told beside it, the other.
func TestTwoPhonesCross(t *testing.T) {
	s := newServer(t, build(t))
	s.start()
	job := s.demoJob()
	before := len(s.records(job))
	var phones []*planner
	for i, width := range []string{"4.91", "4.92"} {
		p := &planner{phone: phone{browsertest.Start(t, browsertest.Options{}), t, s, job}}
		phones = append(phones, p)
		p.must(p.Browser.Open(s.url("/you")))
		p.must(p.Until(`performance.getEntriesByName('usable').length > 0 && document.querySelector('#who') !== null`))
		p.must(p.Offline())
		p.write("who", fmt.Sprintf("Lead %d", i+1))
		p.tap("label", "Lead")
		p.tap("button", "Keep this")
		p.must(p.Until(`document.querySelector('[name=who]').defaultValue !== ''`))
		p.open(p.path("plan", "room"))
		p.must(p.Until(`document.querySelector('[name=width_m]') !== null`)) // the whole program is here
		p.write("width_m", width)
	}
	s.kill()
	answers := []string{"unplugged", "locked"}
	for i, p := range phones {
		p.save()
		p.status("not sent yet")
		p.open(p.path("plan", "room"))
		p.must(p.Until(fmt.Sprintf(`document.querySelector('[name=width_m]')?.value === %q`, []string{"4.91", "4.92"}[i]))) // without the server too
		p.open(p.path("steps", "isolate"))
		p.fill(nil, map[string]string{"how": answers[i]})
		p.confirm()
		p.phone.save("record", "Recorded by")
	}
	s.start()
	for range 2 { // the first to send has to hear of the second
		for _, p := range phones {
			p.open("/you")
			p.must(p.Click("[data-act=sync]"))
			p.status("Everything is sent")
		}
	}
	records := s.records(job)
	require.Len(t, records, before+4, "nothing is lost, nothing is there twice")
	var crossed []checklist.Record
	for _, r := range records[before:] {
		if !r.Accepted {
			crossed = append(crossed, r)
		}
	}
	require.Len(t, crossed, 1)
	assert.Contains(t, crossed[0].Reason, "room was changed by Lead")
	for _, path := range []string{"/jobs/" + job, phones[0].path("plan", "room"), phones[0].path("plan", "edits"), phones[0].path("record"), phones[0].path("steps", "isolate")} {
		var texts [2]string
		for i, p := range phones {
			p.open(path)
			p.must(p.Until(`document.querySelector('#page h1').innerText !== 'Not found'`))
			var err error
			texts[i], err = p.Text("#page")
			p.must(err)
			p.shot(fmt.Sprintf("cross-%d", i))
		}
		assert.Equal(t, texts[0], texts[1], path)
		if path == phones[0].path("plan", "room") {
			assert.Contains(t, texts[0], "Two people changed the same thing")
		}
	}
}
