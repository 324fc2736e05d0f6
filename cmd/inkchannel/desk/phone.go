package desk

import (
	"context"
	"html/template"
	"io"
	"net"
	"net/http"
	"time"
)

// phonePage is the one page that a phone sees.
var phonePage = template.Must(template.ParseFS(web, "web/phone.html"))

// phoneWait is how long the page for a phone is open at most.
const phoneWait = 10 * time.Minute

// ServePhone serves, on a listener that others on the network reach, a page that takes one photo
// for a desk that waits for one, and can do nothing else. It returns once the desk has a photo,
// after ten minutes, or when ctx ends.
func (d *Desk) ServePhone(ctx context.Context, l net.Listener) error {
	ctx, done := context.WithTimeout(ctx, phoneWait)
	defer done()
	srv := &http.Server{
		Handler: d.phone(l.Addr().String(), done), ReadHeaderTimeout: headerWait, MaxHeaderBytes: mostHeader,
	}
	return serveUntil(ctx, srv, l)
}

// phone answers a phone's requests; taken is told when the desk has a photo.
func (d *Desk) phone(host string, taken func()) http.Handler {
	const own = "default-src 'none'; style-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
	page := func(w http.ResponseWriter, code int, problem string, thanks bool) {
		w.Header().Set("Content-Type", htmlType)
		w.WriteHeader(code)
		_ = phonePage.Execute(w, struct { // the browser may be gone
			Problem string
			Thanks  bool
		}{problem, thanks})
	}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{token}/{$}", func(w http.ResponseWriter, _ *http.Request) { page(w, http.StatusOK, "", false) })
	mux.HandleFunc("GET /{token}/desk.css", func(w http.ResponseWriter, _ *http.Request) {
		asset(w, "desk.css", mediaType("desk.css"))
	})
	mux.HandleFunc("POST /{token}/{$}", func(w http.ResponseWriter, r *http.Request) {
		name, data, err := d.sentByForm(w, r)
		if err == nil {
			err = d.takePhoto(r.Context(), name, data)
		}
		if err != nil {
			page(w, http.StatusUnprocessableEntity, err.Error(), false)
			return
		}
		page(w, http.StatusOK, "", true)
		taken()
	})
	return guard{host: host, token: d.phoneToken, policy: own, form: true}.before(mux)
}

// PhonePath is the path of the page for a phone: with a token of its own, which opens nothing else.
func (d *Desk) PhonePath() string { return "/" + d.phoneToken + "/" }

// sentByForm reads the photo of a form.
func (d *Desk) sentByForm(w http.ResponseWriter, r *http.Request) (name string, data []byte, err error) {
	const more = 1 << 16 // what a form says around its file
	r.Body = http.MaxBytesReader(w, r.Body, d.empty.Limit+more)
	parts, err := r.MultipartReader()
	if err != nil {
		return "", nil, err
	}
	for {
		p, err := parts.NextPart()
		if err != nil {
			return "", nil, tooLarge(err)
		}
		if p.FormName() == "photo" {
			data, err = io.ReadAll(p)
			return p.FileName(), data, tooLarge(err)
		}
	}
}
