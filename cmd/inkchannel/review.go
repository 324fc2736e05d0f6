package main

import (
	"bytes"
	"context"
	"crypto/rand"
	"crypto/subtle"
	"embed"
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"math"
	"net"
	"net/http"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"github.com/urfave/cli/v2"

	"inkchannel/geom"
	"inkchannel/pipeline"
)

//go:embed web/desk.html web/desk.css web/desk.js web/solid.js
var web embed.FS

// Looks at the whole sign, beside the steps.
const (
	viewLit   = "lit"
	viewSolid = "solid"
)

// reviewRun serves a page on loopback to tune a photo's run by.
func reviewRun(c *cli.Context) error {
	if c.NArg() != 1 {
		return usageError{fmt.Errorf("review takes one photo or one run's folder, %d given: inkchannel review PHOTO", c.NArg())}
	}
	job, err := openJob(c, c.Args().First())
	if err != nil {
		return err
	}
	if job.dir != "" {
		if err := pipeline.CheckOutput(job.dir); err != nil {
			return err
		}
	}
	session := pipeline.NewSession(job.data, job.settings)
	if _, err := session.Run(c.Context, pipeline.StagePhoto); err != nil {
		return fmt.Errorf("%s: %w", job.photo, err)
	}
	l, err := net.Listen("tcp", fmt.Sprintf("127.0.0.1:%d", c.Int(flagPort)))
	if err != nil {
		return fmt.Errorf("cannot listen on 127.0.0.1 port %d: %v; give another by --port", c.Int(flagPort), err)
	}
	d, err := newDesk(session, job, l.Addr().String())
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
	job   job

	mu      sync.Mutex
	session *pipeline.Session
	view    string // the stage looked at
	undo    []pipeline.Settings
	redo    []pipeline.Settings
	dragged string       // the flag whose slider moved last, nothing since
	picks   []geom.Point // places picked so far for a setting
	picking string       // its flag
	problem string
	told    string // what was done well
	version int    // counts changes, so that the browser fetches new pictures
}

func newDesk(s *pipeline.Session, j job, host string) (*desk, error) {
	key := make([]byte, 18)
	if _, err := rand.Read(key); err != nil {
		return nil, err
	}
	return &desk{token: base64.RawURLEncoding.EncodeToString(key), host: host, job: j, session: s, view: pipeline.StagePhoto}, nil
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
	case assetKinds()[path] != "":
		d.asset(w, path)
	case path == "state":
		d.mu.Lock()
		defer d.mu.Unlock()
		d.state(w)
	case strings.HasPrefix(path, "picture/"):
		d.picture(w, r, strings.TrimPrefix(path, "picture/"))
	case strings.HasPrefix(path, "file/"):
		d.file(w, r, strings.TrimPrefix(path, "file/"))
	case path == "bodies":
		d.bodies(w)
	default:
		http.NotFound(w, r)
	}
}

// assetKinds are the types of the page's files, by their paths.
func assetKinds() map[string]string {
	const script = "text/javascript; charset=utf-8"
	return map[string]string{"": "text/html; charset=utf-8", "desk.css": "text/css; charset=utf-8", "desk.js": script, "solid.js": script}
}

func (d *desk) asset(w http.ResponseWriter, name string) {
	kind := assetKinds()[name]
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
	Stage string // to look at, or a look at the whole sign
	Flag  string // to set
	Value string
	X, Y  float64 // a place picked, as shares of the picture
	Index int     // the handle to move there
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
	d.problem, d.told = "", ""
	switch path {
	case "view":
		if q.Stage != viewLit && q.Stage != viewSolid && !known(q.Stage) {
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
	case "move":
		if err := d.move(q); err != nil {
			d.problem = err.Error()
			d.state(w)
			return
		}
	case "undo":
		d.step(&d.undo, &d.redo)
	case "redo":
		d.step(&d.redo, &d.undo)
	case "write":
		if err := d.write(r.Context()); err != nil {
			d.problem = err.Error()
		} else {
			d.told = "wrote all files to " + d.job.dir
		}
		d.state(w)
		return
	default:
		http.NotFound(w, r)
		return
	}
	if _, err := d.session.Run(r.Context(), needs(d.view)); err != nil {
		d.problem = err.Error()
	}
	d.version++
	d.state(w)
}

// needs is the last stage that a view shows.
func needs(view string) string {
	switch view {
	case viewLit:
		return pipeline.StagePower
	case viewSolid:
		return pipeline.StageParts
	}
	return view
}

func known(stage string) bool {
	for _, s := range pipeline.Stages() {
		if s.Name == stage {
			return true
		}
	}
	return false
}

// knobOf is the setting of a flag.
func knobOf(flag string) (pipeline.Knob, error) {
	for _, k := range pipeline.Knobs() {
		if k.Flag == flag {
			return k, nil
		}
	}
	return pipeline.Knob{}, fmt.Errorf("there is no setting %q", flag)
}

func (d *desk) set(q request) error {
	k, err := knobOf(q.Flag)
	if err != nil {
		return err
	}
	next := d.session.Settings()
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

// pick adds a place picked in the picture; the last that a setting needs sets
// it, or adds to it if it takes many.
func (d *desk) pick(q request) error {
	k, err := knobOf(q.Flag)
	if err != nil {
		return err
	}
	if k.Places() == 0 {
		return fmt.Errorf("%s takes no places", q.Flag)
	}
	p, err := d.session.Latest().Picked(q.Flag, q.Stage, q.X, q.Y)
	if err != nil {
		return err
	}
	if d.picking != q.Flag {
		d.picking, d.picks = q.Flag, nil
	}
	if d.picks = append(d.picks, p); len(d.picks) < k.Places() {
		return nil
	}
	text := placeList(d.picks)
	if now := d.session.Settings(); k.Many() && !k.IsDefault(&now) {
		text = k.Get(&now) + " " + text
	}
	d.picking, d.picks = "", nil
	return d.set(request{Flag: q.Flag, Value: text})
}

// move puts one of the places that the stage looked at found elsewhere.
func (d *desk) move(q request) error {
	r, ok := d.session.At(needs(d.view))
	if !ok {
		return errors.New("this step has found nothing to move")
	}
	flag, places, _ := r.Handles(d.view)
	if flag == "" || q.Index < 0 || q.Index >= len(places) {
		return errors.New("there is no such place to move")
	}
	p, err := r.Picked(flag, d.view, q.X, q.Y)
	if err != nil {
		return err
	}
	places[q.Index] = p
	return d.set(request{Flag: flag, Value: placeList(places), Drag: q.Drag})
}

// placeList writes places as a setting takes them.
func placeList(places []geom.Point) string {
	var text []string
	for _, p := range places {
		text = append(text, fmt.Sprintf("%.1f,%.1f", p.X, p.Y))
	}
	return strings.Join(text, " ")
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
		Photo, View, Problem, Told, Command, Folder string
		Version, Bar, Picked                        int
		Undo, Redo                                  bool
		Stages                                      []deskStage
		Knobs                                       []deskKnob
		Marks                                       []deskMark
		Handles                                     []geom.Point // shares of the picture
	}
	deskStage struct {
		Name, Does, Found, Sure string
		Ran, OnSheet, Unsure    bool
		Notes                   []string
	}
	deskKnob struct {
		Flag, Unit, Help, Value, Default string
		Least, Most                      float64
		Whole, Many                      bool
		Places                           int
		Choices                          []string
	}
	// A deskMark is a problem: where it is on the sheet's picture, as shares of
	// its width and height, and where to turn.
	deskMark struct {
		Stage, Text, Flag, FlagStage string
		OnSheet                      bool
		X, Y                         float64
	}
)

func (d *desk) state(w http.ResponseWriter) {
	set, def := d.session.Settings(), pipeline.Default()
	s := deskState{
		Photo: d.job.photo, View: d.view, Problem: d.problem, Told: d.told, Command: d.command(), Folder: d.job.dir,
		Version: d.version, Bar: pipeline.PictureBar, Picked: len(d.picks), Undo: len(d.undo) > 0, Redo: len(d.redo) > 0,
	}
	for _, st := range pipeline.Stages() {
		ds := deskStage{Name: st.Name, Does: st.Does, OnSheet: pipeline.OnSheet(st.Name)}
		if r, ok := d.session.At(st.Name); ok {
			last := r.Steps[len(r.Steps)-1]
			ds.Ran, ds.Found, ds.Notes = true, last.Found, last.Notes
			ds.Sure, ds.Unsure = last.Confidence(), last.Unsure()
		}
		s.Stages = append(s.Stages, ds)
	}
	for _, k := range pipeline.Knobs() {
		if k.Stage == d.view {
			s.Knobs = append(s.Knobs, deskKnob{k.Flag, k.Unit, k.Help, k.Get(&set), k.Get(&def), k.Least, k.Most, k.Whole, k.Many(), k.Places(), k.Choices})
		}
	}
	s.Marks = marks(d.session.Latest())
	if r, ok := d.session.At(needs(d.view)); ok {
		_, _, s.Handles = r.Handles(d.view)
	}
	w.Header().Set("Content-Type", "application/json")
	_ = json.NewEncoder(w).Encode(s) // the browser may be gone
}

// marks are the problems of what has run.
func marks(r *pipeline.Result) []deskMark {
	var out []deskMark
	for _, p := range pipeline.Problems(r) {
		m := deskMark{Stage: p.Stage, Text: p.Text, Flag: p.Flag, OnSheet: p.OnSheet, X: p.At.X / r.Size.X, Y: p.At.Y / r.Size.Y}
		if k, err := knobOf(p.Flag); err == nil {
			m.FlagStage = k.Stage
		}
		out = append(out, m)
	}
	return out
}

// command is the command line that repeats the settings.
func (d *desk) command() string {
	dir := d.job.dir
	if dir == "" {
		dir = "my-sign"
	}
	out := []string{"inkchannel", "make", quoted(d.job.photo), "-o", quoted(dir)}
	if d.job.photo == demoName {
		out = []string{"inkchannel", "demo", "-o", quoted(dir)}
	}
	set := d.session.Settings()
	for _, k := range pipeline.Knobs() {
		if !k.IsDefault(&set) {
			out = append(out, "--"+k.Flag, quoted(k.Get(&set)))
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
	view := strings.TrimSuffix(name, ".jpg")
	stage := needs(view)
	if !known(stage) || view == viewSolid {
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
	img, err := d.draw(res, view)
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

// draw draws a view but the one in 3D.
func (d *desk) draw(r *pipeline.Result, view string) (image.Image, error) {
	if view == viewLit {
		return pipeline.Lit(r, 1400), nil
	}
	return pipeline.ReviewImage(r, view)
}

// bodies sends the parts for the view in 3D: a line of JSON that names them and
// says how many vertices and triangles each has, then for each its vertices, 3
// float32 in mm, and its triangles, 3 uint32, all little-endian.
func (d *desk) bodies(w http.ResponseWriter) {
	d.mu.Lock()
	r, ok := d.session.At(pipeline.StageParts)
	d.mu.Unlock()
	if !ok {
		http.Error(w, "the parts are not made yet", http.StatusNotFound)
		return
	}
	type body struct {
		Name, Colour        string
		Apart               [3]float64
		Vertices, Triangles int
	}
	var list []body
	var data []byte
	for _, b := range pipeline.Bodies(r) {
		list = append(list, body{b.Name, b.Colour, [3]float64{b.Apart.X, b.Apart.Y, b.Apart.Z}, len(b.Mesh.Vertices), len(b.Mesh.Triangles)})
		for _, v := range b.Mesh.Vertices {
			for _, x := range [3]float64{v.X, v.Y, v.Z} {
				data = binary.LittleEndian.AppendUint32(data, math.Float32bits(float32(x)))
			}
		}
		for _, t := range b.Mesh.Triangles {
			for _, i := range t {
				data = binary.LittleEndian.AppendUint32(data, uint32(i))
			}
		}
	}
	head, err := json.Marshal(list)
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	for (len(head)+1)%4 != 0 { // numbers are read in place, so they start at a fourth byte
		head = append(head, ' ')
	}
	w.Header().Set("Content-Type", "application/octet-stream")
	_, _ = w.Write(append(append(head, '\n'), data...)) // the browser may be gone
}

// write runs the session to its end and writes its folder.
func (d *desk) write(ctx context.Context) error {
	if d.job.dir == "" {
		return errors.New("no folder to write to: start the review with -o DIR, or use the command")
	}
	stages := pipeline.Stages()
	res, err := d.session.Run(ctx, stages[len(stages)-1].Name)
	if err != nil {
		return err
	}
	rev := pipeline.NewReviewer()
	for i, s := range res.Steps {
		if r, ok := d.session.At(stages[i].Name); ok {
			rev.Draw(r, s)
		}
	}
	named := *res
	named.Source = filepath.Base(d.job.photo)
	files, err := runFiles(&named, rev)
	if err != nil {
		return err
	}
	return pipeline.WriteRun(d.job.dir, files)
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
