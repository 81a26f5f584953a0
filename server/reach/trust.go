package reach

import (
	"crypto/sha256"
	"encoding/base64"
	"log/slog"
	"net"
	"net/http"

	"hangtrue/pwa/markup"
	"hangtrue/server/authority"
)

// CertificatePath is where [TrustPage] hands the authority's certificate out. Phones
// name the file after it.
const CertificatePath = "/hangtrue-authority.crt"

// Trust is what [TrustPage] tells.
type Trust struct {
	Authority *authority.Authority
	Answers   func(host string) bool // whether the server's certificate is for a host
	Best      func() string          // the host to show where the one asked for is not among them
	Port      string                 // of the server, over HTTPS
}

// TrustPage is served over plain HTTP: a phone cannot be asked to trust a server over
// a connection that it does not trust yet. It answers with a page, with the
// authority's certificate, and with nothing else.
func TrustPage(t Trust) http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", t.page)
	mux.HandleFunc("GET "+CertificatePath, func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "application/x-x509-ca-cert")
		send(w, t.Authority.DER())
	})
	mux.HandleFunc("/", func(w http.ResponseWriter, _ *http.Request) { notFound(w) })
	return strict(mux)
}

const style = `:root{color-scheme:light dark}body{background:Canvas;color:CanvasText;font:1.0625rem/1.5 system-ui,sans-serif;margin:0 auto;padding:1rem;max-width:38rem}` +
	`h1{font-size:1.5rem;line-height:1.25}code{display:block;max-width:20ch;font:600 1.125rem/1.5 ui-monospace,monospace}` +
	`a.go{color:LinkText;display:inline-block;padding:.75rem 1rem;border:2px solid;border-radius:.5rem;font-weight:600;overflow-wrap:anywhere}` +
	`:focus-visible{outline:3px solid;outline-offset:2px}li{margin:.5rem 0}h2{font-size:1.25rem;margin-top:2rem}h3{font-size:1.0625rem}svg{display:block;max-width:100%;height:auto;margin-top:1rem}`

// styled is the one thing that the page's policy lets through beside its text.
var styled = func() string {
	sum := sha256.Sum256([]byte(style))
	return "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
}()

// strict sets the headers that every answer over plain HTTP has.
func strict(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", "default-src 'none'; style-src "+styled+"; form-action 'none'; base-uri 'none'; frame-ancestors 'none'")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("X-Frame-Options", "DENY")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		h.Set("Content-Type", "text/plain; charset=utf-8")
		next.ServeHTTP(w, r)
	})
}

func notFound(w http.ResponseWriter) {
	w.WriteHeader(http.StatusNotFound)
	send(w, []byte("There is nothing here.\n"))
}

func send(w http.ResponseWriter, body []byte) {
	if _, err := w.Write(body); err != nil {
		slog.Debug("an answer was not taken", "cause", err)
	}
}

func (t Trust) page(w http.ResponseWriter, r *http.Request) {
	host := r.Host
	if h, _, err := net.SplitHostPort(host); err == nil {
		host = h
	}
	// The phone reached this page by that host, so it reaches the server by it as well.
	if !t.Answers(host) {
		host = t.Best()
	}
	address := "https://" + net.JoinHostPort(host, t.Port) + "/"
	code, err := QR(address, "The address as a code for a camera")
	if err != nil {
		slog.Error("the page about trust", "cause", err)
		http.Error(w, "The page could not be made.", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	send(w, []byte("<!doctype html>\n"+markup.String(t.document(address, code))))
}

func (t Trust) document(address string, code markup.Node) markup.Node {
	el, text, attr := markup.El, markup.Text, markup.Attr
	p := func(s string) markup.Node { return el("p", text(s)) }
	steps := func(lines ...string) markup.Node {
		return el("ol", markup.Each(lines, func(s string) markup.Node { return el("li", text(s)) }))
	}
	name := t.Authority.Name()
	return el("html", attr("lang", "en"),
		el("head", el("meta", attr("charset", "utf-8")), el("meta", attr("name", "viewport"), attr("content", "width=device-width, initial-scale=1")),
			el("title", text("Trust this server")), el("style", text(style))),
		el("body", el("main",
			el("h1", text("Let this phone trust the server")),
			p("The phone can go on working where the server is out of reach. It does so only for a server whose certificate it trusts. This one signs its certificates with an authority of its own, which no phone knows yet. Do this once on each phone."),
			el("h2", text("1. Load the authority's certificate")),
			el("p", el("a", attr("class", "go"), attr("href", CertificatePath), text("Load the certificate"))),
			p("The phone will list it as: "+name+"."),
			el("h2", text("2. Compare its fingerprint")),
			p("The server printed a fingerprint where it was started. Before you trust the certificate, look at the fingerprint (SHA-256) that the phone shows with its details and compare all of it with the server's:"),
			el("p", el("code", text(t.Authority.Fingerprint()))),
			p("This page came to you unprotected, so somebody in the same network could have changed it. If the phone's fingerprint is not the one on the server's own screen, stop."),
			el("h2", text("3. Tell the phone to trust it")),
			p("Phones are of two kinds here. (From memory, not verified; menus differ from phone to phone and from year to year.)"),
			el("h3", text("A phone that calls it a profile")),
			steps("Open the settings. Near the top stands the profile that was loaded; install it and give the phone's code.",
				"Then a second switch, which is easily forgotten: in the settings, in the part with facts about the phone, at the end, are the certificates that are trusted. Switch full trust on for this one."),
			el("h3", text("A phone that calls it a CA certificate")),
			steps("Opening the file is not enough. Open the settings for security, and there those for encryption, credentials or certificates.",
				"Choose to install a CA certificate, and pick the file that was loaded. The phone must have a screen lock.",
				"The phone warns that somebody may now watch its traffic. That is what an authority in the wrong hands could do. This one is limited to addresses and names of a home network, as far as the phone heeds that limit, and its key stays on the server."),
			p("A browser that keeps its own list of authorities does not see the phone's: it needs a switch of its own, or another browser."),
			el("h2", text("4. Open the server")),
			el("p", el("a", attr("class", "go"), attr("href", address), text(address))),
			p("If the phone still warns, go back to step 3. Do not pass the warning by: pages would open, but would not work where the server is out of reach."),
			code,
			el("h2", text("To take it back")),
			p("Remove the certificate where you installed it. Nothing else on the phone was changed."),
		)))
}
