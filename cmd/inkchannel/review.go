package main

import (
	"bytes"
	"context"
	"crypto/rand"
	"crypto/subtle"
	"embed"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"image/jpeg"
	"io"
	"net"
	"net/http"
	"strings"
	"sync"
	"time"

	"github.com/urfave/cli/v2"

	"inkchannel/geom"
	"inkchannel/pipeline"
)

//go:embed web
var web embed.FS

// reviewPhoto serves a page on loopback to tune a photo's run by.
func reviewPhoto(c *cli.Context) error {
	if c.NArg() != 1 {
		return usageError{fmt.Errorf("review takes one photo, %d given: inkchannel review PHOTO", c.NArg())}
	}
	s, err := settingsOf(c)
	if err != nil {
		return err
	}
	name := c.Args().First()
	data, err := readPhoto(name, photoLimit(s))
	if err != nil {
		return err
	}
	session := pipeline.NewSession(data, s)
	if _, err := session.Run(c.Context, pipeline.StagePhoto); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	l, err := net.Listen("tcp", fmt.Sprintf("127.0.0.1:%d", c.Int(flagPort)))
	if err != nil {
		return fmt.Errorf("cannot listen on 127.0.0.1 port %d: %v; give another by --port", c.Int(flagPort), err)
	}
	d, err := newDesk(session, name, l.Addr().String())
	if err != nil {
		return err
	}
	fmt.Fprintf(c.App.Writer, "open http://%s/%s/ and stop by Ctrl-C\n", l.Addr(), d.token)
	return d.serve(c.Context, l)
}

// serve answers until ctx ends.
func (d *desk) serve(ctx context.Context, l net.Listener) error {
	srv := &http.Server{Handler: d, ReadHeaderTimeout: 10 * time.Second, MaxHeaderBytes: 1 << 14}
	stopped := make(chan error, 1)
	go func() { stopped <- srv.Serve(l) }()
	select {
	case err := <-stopped:
		return err
	case <-ctx.Done():
	}
	end, cancel := context.WithTimeout(context.Background(), 2*time.Second)
	defer cancel()
	if err := srv.Shutdown(end); err != nil {
		return srv.Close()
	}
	return nil
}

// A desk is the page's server: one session with its undo.
type desk struct {
	token string
	host  string // what the Host header must be
	photo string

	mu      sync.Mutex
	session *pipeline.Session
	view    string // the stage looked at
	undo    []pipeline.Settings
	redo    []pipeline.Settings
	dragged string       // the flag whose slider moved last, nothing since
	picks   []geom.Point // places picked so far for a setting
	picking string       // its flag
	problem string
	version int // counts changes, so that the browser fetches new pictures
}

func newDesk(s *pipeline.Session, photo, host string) (*desk, error) {
	key := make([]byte, 18)
	if _, err := rand.Read(key); err != nil {
		return nil, err
	}
	return &desk{token: base64.RawURLEncoding.EncodeToString(key), host: host, photo: photo, session: s, view: pipeline.StagePhoto}, nil
}

// policy lets the page load only what we serve ourselves.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// mostBody is the largest request that is read, bytes.
const mostBody = 1 << 14

func (d *desk) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("Content-Security-Policy", policy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Cache-Control", "no-store")
	// Another site that reached us by a name of its own, or from its own page,
	// is refused.
	if r.Host != d.host {
		http.Error(w, "wrong host", http.StatusForbidden)
		return
	}
	if o := r.Header.Get("Origin"); o != "" && o != "http://"+d.host {
		http.Error(w, "wrong origin", http.StatusForbidden)
		return
	}
	token, path, ok := strings.Cut(strings.TrimPrefix(r.URL.Path, "/"), "/")
	if !ok || subtle.ConstantTimeCompare([]byte(token), []byte(d.token)) != 1 {
		http.NotFound(w, r)
		return
	}
	switch {
	case r.Method == http.MethodPost:
		d.act(w, r, path)
	case r.Method != http.MethodGet:
		http.Error(w, "only GET and POST", http.StatusMethodNotAllowed)
	case path == "" || path == "desk.js" || path == "desk.css":
		d.asset(w, path)
	case path == "state":
		d.mu.Lock()
		defer d.mu.Unlock()
		d.state(w)
	case strings.HasPrefix(path, "picture/"):
		d.picture(w, r, strings.TrimPrefix(path, "picture/"))
	case strings.HasPrefix(path, "file/"):
		d.file(w, r, strings.TrimPrefix(path, "file/"))
	default:
		http.NotFound(w, r)
	}
}

func (d *desk) asset(w http.ResponseWriter, name string) {
	kind := map[string]string{"": "text/html; charset=utf-8", "desk.js": "text/javascript; charset=utf-8", "desk.css": "text/css; charset=utf-8"}[name]
	if name == "" {
		name = "desk.html"
	}
	data, err := web.ReadFile("web/" + name)
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", kind)
	_, _ = w.Write(data) // the browser may be gone
}

// A request is one change that the page asks for.
type request struct {
	Stage string // to look at
	Flag  string // to set
	Value string
	X, Y  float64 // a place picked, as shares of the picture
	Drag  bool    // one of many while a slider moves: they are undone together
}

// act does what a POST asks for and answers with the new state.
func (d *desk) act(w http.ResponseWriter, r *http.Request, path string) {
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, mostBody))
	var q request
	if err == nil {
		err = json.Unmarshal(body, &q)
	}
	if err != nil {
		http.Error(w, "a request in JSON of at most 16 kB is wanted", http.StatusBadRequest)
		return
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	d.problem = ""
	switch path {
	case "view":
		if !known(q.Stage) {
			http.Error(w, "no such stage", http.StatusBadRequest)
			return
		}
		d.view = q.Stage
	case "set":
		if err := d.set(q); err != nil {
			d.problem = err.Error()
			d.state(w)
			return
		}
	case "pick":
		err := d.pick(q)
		if err != nil {
			d.problem = err.Error()
		}
		if err != nil || len(d.picks) > 0 { // nothing to run yet
			d.state(w)
			return
		}
	case "undo":
		d.step(&d.undo, &d.redo)
	case "redo":
		d.step(&d.redo, &d.undo)
	default:
		http.NotFound(w, r)
		return
	}
	if _, err := d.session.Run(r.Context(), d.view); err != nil {
		d.problem = err.Error()
	}
	d.version++
	d.state(w)
}

func known(stage string) bool {
	for _, s := range pipeline.Stages() {
		if s.Name == stage {
			return true
		}
	}
	return false
}

func (d *desk) set(q request) error {
	next := d.session.Settings()
	for _, k := range pipeline.Knobs() {
		if k.Flag == q.Flag {
			if err := k.Set(&next, q.Value); err != nil {
				return err
			}
			if !q.Drag || d.dragged != q.Flag {
				d.undo = append(d.undo, d.session.Settings())
			}
			d.redo, d.dragged = nil, ""
			if q.Drag {
				d.dragged = q.Flag
			}
			d.session.Use(next)
			return nil
		}
	}
	return fmt.Errorf("there is no setting %q", q.Flag)
}

// pick adds a place picked in the picture; the last that a setting needs sets
// it.
func (d *desk) pick(q request) error {
	need := 0
	for _, k := range pipeline.Knobs() {
		if k.Flag == q.Flag {
			need = k.Places()
		}
	}
	if need == 0 {
		return fmt.Errorf("%q takes no places", q.Flag)
	}
	p, err := d.session.Latest().Picked(q.Flag, q.Stage, q.X, q.Y)
	if err != nil {
		return err
	}
	if d.picking != q.Flag {
		d.picking, d.picks = q.Flag, nil
	}
	if d.picks = append(d.picks, p); len(d.picks) < need {
		return nil
	}
	var text []string
	for _, p := range d.picks {
		text = append(text, fmt.Sprintf("%.1f,%.1f", p.X, p.Y))
	}
	d.picking, d.picks = "", nil
	return d.set(request{Flag: q.Flag, Value: strings.Join(text, " ")})
}

// step takes the last settings of one list and puts those of now on the other.
func (d *desk) step(from, to *[]pipeline.Settings) {
	n := len(*from)
	if n == 0 {
		return
	}
	d.dragged = ""
	*to = append(*to, d.session.Settings())
	d.session.Use((*from)[n-1])
	*from = (*from)[:n-1]
}

// What the page is told.
type (
	deskState struct {
		Photo, View, Problem, Command string
		Version, Bar, Picked          int
		Undo, Redo                    bool
		Stages                        []deskStage
		Knobs                         []deskKnob
	}
	deskStage struct {
		Name, Does, Found string
		Ran               bool
		Notes             []string
	}
	deskKnob struct {
		Flag, Unit, Help, Value, Default string
		Least, Most                      float64
		Whole                            bool
		Places                           int
		Choices                          []string
	}
)

func (d *desk) state(w http.ResponseWriter) {
	set, def := d.session.Settings(), pipeline.Default()
	s := deskState{Photo: d.photo, View: d.view, Problem: d.problem, Version: d.version, Bar: pipeline.PictureBar, Picked: len(d.picks), Undo: len(d.undo) > 0, Redo: len(d.redo) > 0, Command: command(d.photo, set)}
	for _, st := range pipeline.Stages() {
		ds := deskStage{Name: st.Name, Does: st.Does}
		if r, ok := d.session.At(st.Name); ok {
			last := r.Steps[len(r.Steps)-1]
			ds.Ran, ds.Found, ds.Notes = true, last.Found, last.Notes
		}
		s.Stages = append(s.Stages, ds)
	}
	for _, k := range pipeline.Knobs() {
		if k.Stage == d.view {
			s.Knobs = append(s.Knobs, deskKnob{k.Flag, k.Unit, k.Help, k.Get(&set), k.Get(&def), k.Least, k.Most, k.Whole, k.Places(), k.Choices})
		}
	}
	w.Header().Set("Content-Type", "application/json")
	_ = json.NewEncoder(w).Encode(s) // the browser may be gone
}

// command is the command line that repeats the settings.
func command(photo string, set pipeline.Settings) string {
	def := pipeline.Default()
	out := []string{"inkchannel", "make", quoted(photo), "-o", "my-sign"}
	for _, k := range pipeline.Knobs() {
		if v := k.Get(&set); v != k.Get(&def) {
			out = append(out, "--"+k.Flag, quoted(v))
		}
	}
	return strings.Join(out, " ")
}

// quoted makes a word safe for a POSIX shell.
func quoted(word string) string {
	plain := word != "" && strings.IndexFunc(word, func(r rune) bool {
		return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune("-_./", r))
	}) < 0
	if plain {
		return word
	}
	return "'" + strings.ReplaceAll(word, "'", `'\''`) + "'"
}

// picture sends the review image of a stage that has run.
func (d *desk) picture(w http.ResponseWriter, r *http.Request, name string) {
	stage := strings.TrimSuffix(name, ".jpg")
	if !known(stage) {
		http.NotFound(w, r)
		return
	}
	d.mu.Lock()
	res, ok := d.session.At(stage)
	d.mu.Unlock()
	if !ok {
		http.NotFound(w, r)
		return
	}
	img, err := pipeline.ReviewImage(res, stage)
	var b bytes.Buffer
	if err == nil {
		err = jpeg.Encode(&b, img, &jpeg.Options{Quality: 82})
	}
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "image/jpeg")
	_, _ = w.Write(b.Bytes()) // the browser may be gone
}

// file runs the session to its end and sends one of the run's files.
func (d *desk) file(w http.ResponseWriter, r *http.Request, name string) {
	write, ok := deskFiles()[name]
	if !ok {
		http.NotFound(w, r)
		return
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	stages := pipeline.Stages()
	res, err := d.session.Run(r.Context(), stages[len(stages)-1].Name)
	var data []byte
	if err == nil {
		data, err = write(res)
	}
	if err != nil {
		http.Error(w, err.Error(), http.StatusUnprocessableEntity)
		return
	}
	w.Header().Set("Content-Type", "application/octet-stream")
	w.Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
	_, _ = w.Write(data) // the browser may be gone
}

// deskFiles are the files that the page offers, with what writes them.
func deskFiles() map[string]func(*pipeline.Result) ([]byte, error) {
	return map[string]func(*pipeline.Result) ([]byte, error){
		pipeline.FileSign:       pipeline.ThreeMF,
		pipeline.FileCutSheet:   pipeline.CutSheet,
		pipeline.FileAssembly:   func(r *pipeline.Result) ([]byte, error) { return pipeline.Assembly(r), nil },
		pipeline.FileCentreline: func(r *pipeline.Result) ([]byte, error) { return pipeline.SVG(r.Line, r.Size), nil },
		pipeline.FileSettings:   func(r *pipeline.Result) ([]byte, error) { return pipeline.WriteSettings(r.Settings), nil },
	}
}
