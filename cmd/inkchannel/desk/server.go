package desk

import (
	"bytes"
	"cmp"
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
	"io"
	"io/fs"
	"math"
	"net"
	"net/http"
	"path"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"inkchannel/geom/parallel"
	"inkchannel/pipeline"
	"inkchannel/pipeline/lines"
	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/power"
	"inkchannel/pipeline/stage"
	"inkchannel/vision"
)

//go:embed web/desk.html web/desk.css web/desk.js web/dom.js web/built.js web/compare.js web/files.js web/focus.js web/frame.js web/handles.js web/knobs.js web/measure.js web/opening.js web/over.js web/picking.js web/place.js web/problems.js web/send.js web/solid.js web/switches.js web/words.js web/icon.svg web/phone.html
var web embed.FS

// A Job is what is tuned.
type Job struct {
	Source   pipeline.Source
	Lines    *lines.Drawing // lines from a file in place of a photo
	Settings stage.Settings
	// Photo is what the page calls the photo, Command the words of the command
	// that repeats the run, up to where its settings go.
	Photo   string
	Command func(dir string) []string
	Dir     string        // the folder that the page may write, none if empty
	Strips  []power.Strip // the library to choose from
	// Run tells that it is a finished run, whose folder has what was changed once it is written again.
	Run bool
	// Keep keeps the settings for the next time, in what the page calls KeptIn; nil for nowhere.
	Keep   func(stage.Settings) error
	KeptIn string
}

// An Empty is a job without a photo yet: the page takes one.
type Empty struct {
	Settings stage.Settings
	Dir      string
	Limit    int64 // of the photo, bytes
	Strips   []power.Strip
	Phone    bool // a phone may send the photo: ServePhone runs
	// Runs are the names of earlier runs, and of photos changed before, that the page offers; Open opens one.
	Runs []string
	Open func(run string) (Job, error)
	// AsPicture makes a picture of what is none, as of a page; nil takes files as they are.
	AsPicture func(data []byte) ([]byte, error)
	// Command is what a Job's is, of a photo.
	Command func(photo string) func(dir string) []string
	// Beside has a job keep its changes beside its photo, and takes up those that are kept, where the
	// photo is at hand.
	Beside func(j Job) (Job, error)
}

// A Desk serves one job.
type Desk struct {
	table      stage.Table
	token      string
	phoneToken string // of the page for a phone
	host       string // what the Host header must be
	job        Job
	empty      Empty // of a desk that had no photo at first
	worksAhead bool

	mu        sync.Mutex
	session   *stage.Session // nil while there is no photo
	ahead     *ahead         // nil while nothing is under way
	glance    glance
	kept      keptFiles
	settled   moment // when the rear was settled last
	sized     moment // when the scale was mended for the size that is asked for
	byItself  *deepened
	history   history
	view      string          // the stage looked at, or a look at the whole sign
	shown     map[string]bool // the overlays that are switched on
	picking   picking
	problem   string
	refused   string         // what the one who asks is told alone
	failed    bool           // a stage could not run
	lacksDots bool           // as it found no dots: places in the picture mend it
	told      string         // what was done well
	sheetSeen *vision.Colour // and how many there were
	sheets    int
	untouched bool  // nothing was asked for since the photo was taken up
	away      []put // photos that were put away for others, the last first
	version   int   // counts changes, so that the browser fetches new pictures
}

// A put is a photo that was put away with all that was changed, for another.
type put struct {
	job      Job
	settings stage.Settings
	session  *stage.Session // of the last one put away: what it made takes much memory
	history  history
	view     string
}

// New returns a desk that answers at an address. It returns an error for a photo
// that cannot be decoded.
func New(ctx context.Context, table stage.Table, j Job, host string) (*Desk, error) {
	d, err := Waiting(table, Empty{}, host)
	if err != nil {
		return nil, err
	}
	return d, d.open(ctx, j)
}

// Waiting returns a desk whose page takes a photo first.
func Waiting(table stage.Table, e Empty, host string) (*Desk, error) {
	d := &Desk{table: table, host: host, empty: e, shown: shownAtFirst()}
	for _, token := range []*string{&d.token, &d.phoneToken} {
		key := make([]byte, 18)
		if _, err := rand.Read(key); err != nil {
			return nil, err
		}
		*token = base64.RawURLEncoding.EncodeToString(key)
	}
	return d, nil
}

// open takes a job up once its photo can be decoded.
func (d *Desk) open(ctx context.Context, j Job) error {
	session, err := d.sessionOf(j, j.Settings)
	if err != nil {
		return err
	}
	first := session.First()
	if _, err := session.Run(ctx, first); err != nil {
		return err
	}
	d.job, d.session, d.view, d.untouched = j, session, first, true
	return nil
}

// sessionOf starts a job by some settings.
func (d *Desk) sessionOf(j Job, s stage.Settings) (*stage.Session, error) {
	return pipeline.NewSession(d.table, j.Source, j.Lines, s)
}

// use takes the job on by other settings. Lines from a file are put to the size that those ask
// for.
func (d *Desk) use(next stage.Settings) error {
	was := stage.SettingsOf[pipeline.DotsSettings](d.session.Settings())
	if d.job.Lines == nil || reflect.DeepEqual(was, stage.SettingsOf[pipeline.DotsSettings](next)) {
		d.session.Use(next)
		return nil
	}
	session, err := d.sessionOf(d.job, next)
	if err == nil {
		d.session = session
	}
	return err
}

// take opens the photo that the page sends, of the name that it says.
func (d *Desk) take(w http.ResponseWriter, r *http.Request) {
	data, err := io.ReadAll(http.MaxBytesReader(w, r.Body, d.empty.Limit))
	name := r.URL.Query().Get("name")
	if err = tooLarge(err); err == nil {
		err = d.takePhoto(r.Context(), name, data)
	}
	if errors.Is(err, errTaken) {
		http.Error(w, err.Error(), http.StatusConflict)
		return
	}
	if errors.Is(err, vision.ErrNotPhoto) {
		err = fmt.Errorf("%w, or an SVG file of lines", err)
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.problem = ""; err != nil {
		d.problem = baseName(name) + ": " + err.Error()
	}
	d.tell(w)
}

// takeRun opens one of the earlier runs that are offered.
func (d *Desk) takeRun(w http.ResponseWriter, r *http.Request, q request) {
	if d.session != nil || !slices.Contains(d.empty.Runs, q.Value) {
		http.Error(w, "there is no such run to open", http.StatusConflict)
		return
	}
	j, err := d.empty.Open(q.Value)
	if err == nil {
		err = d.open(r.Context(), j)
	}
	if d.problem = ""; err != nil {
		d.problem = err.Error()
	}
	d.tell(w)
}

// baseName is a file's name without the folders that a browser may say; one that names no file is "photo".
func baseName(name string) string {
	name = path.Base(strings.ReplaceAll(name, "\\", "/"))
	if strings.Trim(name, "./") == "" {
		return "photo"
	}
	return name
}

// tooLarge says a body that is too large in the user's words.
func tooLarge(err error) error {
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		return fmt.Errorf("%d MB and more is too large for a photo within the megapixel limit; shrink it", large.Limit>>20)
	}
	return err
}

// errTaken says that the desk has a photo.
var errTaken = errors.New("there is a photo already")

// takePhoto opens a photo, or lines, on a desk that waits for such.
func (d *Desk) takePhoto(ctx context.Context, name string, data []byte) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.session != nil {
		return errTaken
	}
	name = baseName(name)
	if d.empty.AsPicture != nil {
		var err error
		if data, err = d.empty.AsPicture(data); err != nil {
			return err
		}
	}
	j := Job{
		Source: pipeline.Source{Name: name, Data: data}, Settings: d.empty.Settings, Photo: name,
		Command: d.empty.Command(name), Dir: d.empty.Dir, Strips: d.empty.Strips,
	}
	if strings.EqualFold(path.Ext(name), ".svg") {
		drawing, err := lines.Read(data)
		if err != nil {
			return err
		}
		j.Lines = &drawing
	}
	if i := slices.IndexFunc(d.away, func(p put) bool { return bytes.Equal(p.job.Source.Data, j.Source.Data) }); i >= 0 {
		return d.resume(ctx, i)
	}
	if d.empty.Beside != nil {
		var err error
		if j, err = d.empty.Beside(j); err != nil {
			return err
		}
	}
	return d.open(ctx, j)
}

// Path is the path of the page, with the token that it must be asked by.
func (d *Desk) Path() string { return "/" + d.token + "/" }

// How long the server waits for a request's header, and for what is under way when
// it stops; and the largest header and body that it reads, bytes.
const (
	headerWait = 10 * time.Second
	stopWait   = 2 * time.Second
	mostHeader = 1 << 14
	mostBody   = 1 << 14
)

// Serve answers until ctx ends.
func (d *Desk) Serve(ctx context.Context, l net.Listener) error {
	return serveUntil(ctx, &http.Server{Handler: d.Handler(), ReadHeaderTimeout: headerWait, MaxHeaderBytes: mostHeader}, l)
}

// serveUntil answers until ctx ends, and lets what is under way finish.
func serveUntil(ctx context.Context, srv *http.Server, l net.Listener) error {
	stopped := make(chan error, 1)
	go func() { stopped <- srv.Serve(l) }()
	select {
	case err := <-stopped:
		return err
	case <-ctx.Done():
	}
	end, cancel := context.WithTimeout(context.Background(), stopWait)
	defer cancel()
	if err := srv.Shutdown(end); err != nil {
		return srv.Close()
	}
	return nil
}

// policy lets the page load only what we serve ourselves.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; " +
	"base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

const htmlType = "text/html; charset=utf-8"

// mediaType is that of a file that the page asks for, empty for others.
func mediaType(name string) string {
	switch path.Ext(name) {
	case ".css":
		return "text/css; charset=utf-8"
	case ".js":
		return "text/javascript; charset=utf-8"
	case ".svg":
		return "image/svg+xml"
	}
	return ""
}

// Handler answers the page's requests, and nobody else's.
func (d *Desk) Handler() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{token}/{$}", func(w http.ResponseWriter, _ *http.Request) { asset(w, "desk.html", htmlType) })
	files, _ := fs.Glob(web, "web/*") // its pattern is sound
	for _, file := range files {
		name := path.Base(file)
		if kind := mediaType(name); kind != "" {
			mux.HandleFunc("GET /{token}/"+name, func(w http.ResponseWriter, _ *http.Request) { asset(w, name, kind) })
		}
	}
	mux.HandleFunc("GET /{token}/state", func(w http.ResponseWriter, r *http.Request) {
		d.mu.Lock()
		defer d.mu.Unlock()
		d.turnTo(r.URL.Query().Get("view"))
		d.takeAhead()
		d.tell(w)
	})
	mux.HandleFunc("GET /{token}/picture/{name}", d.withPhoto(d.picture))
	mux.HandleFunc("GET /{token}/sheet.jpg", d.withPhoto(d.sheet))
	mux.HandleFunc("GET /{token}/lines", d.withPhoto(d.lines))
	mux.HandleFunc("GET /{token}/more", d.withPhoto(d.more))
	mux.HandleFunc("POST /{token}/look", d.withPhoto(d.lookAhead))
	mux.HandleFunc("POST /{token}/draft", d.withPhoto(d.posted(d.draft)))
	mux.HandleFunc("GET /{token}/files", d.withPhoto(d.offered))
	mux.HandleFunc("GET /{token}/file/{name}", d.withPhoto(d.file))
	mux.HandleFunc("GET /{token}/bodies", d.withPhoto(d.bodies))
	mux.HandleFunc("GET /{token}/assembly", d.withPhoto(d.assembly))
	mux.HandleFunc("GET /{token}/assembly/{step}", d.withPhoto(d.assemblyStep))
	mux.HandleFunc("POST /{token}/photo", d.take)
	mux.HandleFunc("POST /{token}/run", d.posted(d.takeRun))
	mux.HandleFunc("POST /{token}/resume", d.posted(func(w http.ResponseWriter, r *http.Request, q request) {
		i, err := strconv.Atoi(cmp.Or(q.Value, "0"))
		if d.session != nil || err != nil || i < 0 || i >= len(d.away) {
			http.Error(w, "there is nothing to go back to", http.StatusConflict)
			return
		}
		if err = d.resume(r.Context(), i); err != nil {
			d.problem = err.Error()
		}
		d.tell(w)
	}))
	for name, act := range d.actions() {
		mux.HandleFunc("POST /{token}/"+name, d.withPhoto(d.posted(func(w http.ResponseWriter, r *http.Request, q request) {
			d.act(w, r, q, act)
		})))
	}
	return guard{host: d.host, token: d.token, policy: policy}.before(mux)
}

// withPhoto answers only once there is a photo.
func (d *Desk) withPhoto(next http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		d.mu.Lock()
		waiting := d.session == nil
		d.mu.Unlock()
		if waiting {
			http.Error(w, "there is no photo yet", http.StatusConflict)
			return
		}
		next(w, r)
	}
}

// A guard says whom a server answers.
type guard struct {
	host, token, policy string
	form                bool // a form posts, whose browser may not say where from
}

// before refuses who is not the page: another site that reached us by a name of
// its own or from its own page, and who does not know the token.
func (g guard) before(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", g.policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cache-Control", "no-store")
		if r.Host != g.host {
			http.Error(w, "wrong host", http.StatusForbidden)
			return
		}
		if o := r.Header.Get("Origin"); o != "" && o != "http://"+g.host && !(g.form && o == "null") {
			http.Error(w, "wrong origin", http.StatusForbidden)
			return
		}
		token, _, ok := strings.Cut(strings.TrimPrefix(r.URL.Path, "/"), "/")
		if !ok || subtle.ConstantTimeCompare([]byte(token), []byte(g.token)) != 1 {
			http.NotFound(w, r)
			return
		}
		if fault := parallel.Caught(func() { next.ServeHTTP(w, r) }); fault != nil {
			http.Error(w, atFault(fault).Error(), http.StatusInternalServerError)
		}
	})
}

// atFault is an error of the program's own.
func atFault(fault any) error {
	return fmt.Errorf("the program itself is at fault: %v; report this, with the photo and the command on this page", fault)
}

func asset(w http.ResponseWriter, file, kind string) {
	data, err := web.ReadFile("web/" + file)
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", kind)
	_, _ = w.Write(data) // the browser may be gone
}

// turnTo takes up what the tab that asks looks at, so that two tabs do not throw each other about.
func (d *Desk) turnTo(view string) {
	if _, err := d.table.Index(d.needs(view)); view != "" && err == nil {
		d.view = view
	}
}

// posted reads what a POST asks for, and has it done while nobody else uses the desk.
func (d *Desk) posted(do func(http.ResponseWriter, *http.Request, request)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if q, ok := requestOf(w, r); ok {
			d.mu.Lock()
			defer d.mu.Unlock()
			do(w, r, q)
		}
	}
}

// requestOf reads what a POST asks for; it has answered if that is none.
func requestOf(w http.ResponseWriter, r *http.Request) (q request, ok bool) {
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, mostBody))
	if err == nil {
		err = json.Unmarshal(body, &q)
	}
	if err != nil {
		http.Error(w, "the request must be JSON of at most 16 kB", http.StatusBadRequest)
	}
	return q, err == nil
}

// act does what a POST asks for and answers with the new state.
func (d *Desk) act(w http.ResponseWriter, r *http.Request, q request, do action) {
	d.turnTo(q.View)
	was, before := d.problem, d.saved()
	d.problem, d.told, d.untouched = "", "", false
	again, err := do(r.Context(), q)
	if !again && d.session != nil { // nothing ran that could have mended it
		d.problem = was
	}
	if bad := (badRequest{}); errors.As(err, &bad) {
		http.Error(w, bad.Error(), http.StatusBadRequest)
		return
	}
	if err != nil {
		d.refused = err.Error()
	}
	if again {
		_, err := d.runTo(r.Context(), d.needs(d.view))
		if d.say(err); errors.Is(err, context.Canceled) {
			d.putBack(before)
		}
		d.version++
	}
	d.goAhead()
	d.tell(w)
	d.refused = ""
}

// saved is a desk before a change, as far as that may have to be put back.
type saved struct {
	session           *stage.Session
	history           history
	view, problem     string
	failed, lacksDots bool
}

func (d *Desk) saved() saved {
	return saved{d.session.Try(), d.history, d.view, d.problem, d.failed, d.lacksDots}
}

// putBack has the desk as it was, for a change that was stopped.
func (d *Desk) putBack(s saved) {
	changed := !d.session.Settings().Equal(s.session.Settings())
	d.session, d.history, d.view, d.problem, d.failed, d.lacksDots = s.session, s.history, s.view, s.problem, s.failed, s.lacksDots
	if changed {
		d.keep()
	}
}

// say takes note of what a run up to what is shown came to.
func (d *Desk) say(err error) {
	d.failed = err != nil
	dots := (*vision.DotError)(nil)
	d.lacksDots = errors.As(err, &dots)
	switch {
	case errors.Is(err, context.Canceled):
		d.failed = false
		d.told = "Stopped before it was done; all is as it was"
	case err != nil:
		d.problem = err.Error()
	}
}

// litSide is the longer side of the picture of the lit sign, px.
const litSide = 1400

// picture sends the picture of a stage that has run, or of the lit sign.
func (d *Desk) picture(w http.ResponseWriter, r *http.Request) {
	view := strings.TrimSuffix(r.PathValue("name"), ".jpg")
	d.mu.Lock()
	res, ok := d.session.At(d.needs(view))
	d.mu.Unlock()
	if !ok || view == viewSolid || view == viewLines {
		http.NotFound(w, r)
		return
	}
	img, err := d.draw(res, view)
	sendPicture(w, img, err)
}

// sendPicture answers with a picture, or with why there is none.
func sendPicture(w http.ResponseWriter, img *image.RGBA, err error) {
	var data []byte
	if err == nil {
		data, err = picture.EncodeJPEG(img)
	}
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "image/jpeg")
	_, _ = w.Write(data) // the browser may be gone
}

// draw draws a view but the one in 3D.
func (d *Desk) draw(r stage.Results, view string) (*image.RGBA, error) {
	if view == viewLit {
		in, _ := stage.Inputs[pipeline.LitIn](r)
		return pipeline.Lit(in, litSide), nil
	}
	return d.table.Picture(r, view)
}

// bodies sends the parts for the view in 3D: a line of JSON that names them and
// says how many vertices and triangles each has, then for each its vertices, 3
// float32 in mm, and its triangles, 3 uint32, all little-endian.
func (d *Desk) bodies(w http.ResponseWriter, _ *http.Request) {
	d.mu.Lock()
	r, ok := d.session.At(pipeline.StageParts)
	d.mu.Unlock()
	if !ok {
		http.Error(w, "the parts have not been made yet", http.StatusNotFound)
		return
	}
	sendBodies(w, pipeline.Bodies(stage.Of[pipeline.PartsFound](r)))
}

func sendBodies(w http.ResponseWriter, bodies []pipeline.Body) {
	data, err := packed(bodies)
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/octet-stream")
	_, _ = w.Write(data) // the browser may be gone
}

func packed(bodies []pipeline.Body) ([]byte, error) {
	type body struct {
		Name, Colour        string
		Apart               [3]float64
		Extra               bool
		Vertices, Triangles int
	}
	list := []body{} // none is a list too
	var data []byte
	for _, b := range bodies {
		list = append(list, body{
			Name: b.Name, Colour: b.Colour, Apart: [3]float64{b.Apart.X, b.Apart.Y, b.Apart.Z}, Extra: b.Extra,
			Vertices: len(b.Mesh.Vertices), Triangles: len(b.Mesh.Triangles),
		})
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
		return nil, err
	}
	for (len(head)+1)%4 != 0 { // numbers are read in place, so they start at a fourth byte
		head = append(head, ' ')
	}
	return append(append(head, '\n'), data...), nil
}
