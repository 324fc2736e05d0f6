# Everything a fresh Debian machine with Go needs. 'make demo' and 'make test'
# install what is missing themselves.
BUILD_PACKAGES := g++ pkg-config libopencv-dev libgeos-dev libturbojpeg0-dev libtbb-dev zlib1g-dev
# Outside references that the tests compare with.
TEST_PACKAGES := python3-skimage python3-opencv python3-shapely python3-ezdxf admesh hershey-fonts-data \
	lib3mf1 libxml2-utils poppler-utils chromium

.PHONY: build deb fresh install demo test accuracy accuracy-wide accuracy-real checks icons bench photos pictures web fuzz soak mutants check deps test-deps

# OpenCV's core and image processing are linked in, and only what of them is used: as shared
# libraries they load 265 others. Its drawing on OpenGL, which nothing here does, is left out.
# Where there are no such archives the program is linked as 'go build' does.
sections := -O2 -g -ffunction-sections -fdata-sections
build: deps
	@mkdir -p bin
	@lib=$$(pkg-config --variable=libdir opencv4); if [ -f $$lib/libopencv_core.a ]; then \
	  export GOFLAGS="$$GOFLAGS -tags=customenv" CGO_CFLAGS="$(sections)" \
	    CGO_CXXFLAGS="$(sections) --std=c++11 $$(pkg-config --cflags opencv4)" \
	    CGO_LDFLAGS="-O2 -Wl,--gc-sections -Wl,--as-needed -Wl,--defsym=glXGetProcAddressARB=0 \
	      $$lib/libopencv_imgproc.a $$lib/libopencv_core.a -ltbb -l:liblapack.so.3 -l:libblas.so.3 -lz -ldl -lpthread"; \
	fi; go build -ldflags "-X main.commit=$$(git describe --always --dirty 2>/dev/null)" -o bin/inkchannel ./cmd/inkchannel

# A Debian package: the program, manual page, completion, icon, desktop entry and licences.
DEB ?= out/inkchannel.deb
deb: build
	@cmd/inkchannel/package/deb.sh bin/inkchannel $(DEB)

# Installs the package into a bare Debian tree, uses it there as an unprivileged user, uninstalls it and
# looks for what is left. As root; about 2 minutes.
fresh: deb
	@$(call install,mmdebstrap curl)
	@cmd/inkchannel/package/fresh.sh $(DEB)

# Puts the program into PREFIX/bin.
PREFIX ?= /usr/local
install: build
	@install -d $(DESTDIR)$(PREFIX)/bin
	@install -m 755 bin/inkchannel $(DESTDIR)$(PREFIX)/bin/inkchannel

demo: build
	@bin/inkchannel demo -o out/demo
	@echo "open out/demo/review.html and out/demo/sign.3mf"

test: deps test-deps
	@go vet ./...
	@go test ./...

# The plain set: every drawing in three views; exits non-zero when a goal is
# missed. LIMIT=n takes only the first n photos.
accuracy: deps test-deps
	@go run ./cmd/accuracy $(if $(LIMIT),-limit $(LIMIT))

# Time and memory of each stage and of the JPEG decode alone, and how cost grows
# with the number of strokes; some 5 minutes.
bench: build
	@go test ./pipeline -run '^$$' -bench 'Stages|Decode|ToChannel' -benchtime 10x
	@go test ./pipeline -run '^$$' -bench Strokes -benchtime 1x
	@go test ./cmd/inkchannel/desk -run '^$$' -bench . -benchtime 3x
	@go run ./cmd/accuracy -memory bin/inkchannel

# Real photographs with hand-made truth, which lie outside the repository: REAL is
# their folder, with their scorer, the truth and the photos. About 2 minutes.
REAL ?= ../shared/photos
accuracy-real: build
	@if [ -x $(REAL)/score_real.py ]; then \
	  $(REAL)/score_real.py $(CURDIR)/bin/inkchannel $(REAL)/truth $(REAL)/photos -o out/real; \
	else echo "no real photographs in $(REAL); give their folder with REAL="; fi

# The independent check of finished signs, which lies outside the repository: of the demo
# under several ways to hold, boards, covers and beds.
CHECKS ?= ../shared/checks
checks: build test-deps
	@if [ -x $(CHECKS)/all.sh ]; then \
	  rm -rf out/checks && mkdir -p out/checks && \
	  for flags in '' '--hold keyhole' '--hold ears' '--hold pads' '--hold none' '--backboard solid --cover yes' \
	    '--backboard ribs' '--groove all' '--bed-width 150 --bed-depth 150 --cover yes'; do \
	    bin/inkchannel make cmd/inkchannel/demo.jpg $$flags -o "out/checks/demo$$(echo $$flags | tr -d ' ')" --quiet || exit 1; \
	  done && \
	  MANIFOLD=$(CURDIR)/testdata/npm/node_modules/manifold-3d OUT=$(CURDIR)/out/checks-found $(CHECKS)/all.sh out/checks/*; \
	else echo "no checks in $(CHECKS); give their folder with CHECKS="; fi

# The wide set: icons and words under twelve conditions, and drawn onto the real
# photographs of REAL where there are any, with the worst 20 and a CSV in out/accuracy.
# All of it is some 9,800 photos and takes an hour and a half on two cores; EVERY=n takes
# every n-th drawing.
EVERY ?= 1
accuracy-wide: deps test-deps
	@go run ./cmd/accuracy -wide $(EVERY) -on $(REAL)

# Each fuzz target for FUZZTIME.
FUZZTIME ?= 60s
fuzz: deps
	@go test ./vision -run '^$$' -fuzz '^FuzzLoad$$' -fuzztime $(FUZZTIME)
	@go test ./vision -run '^$$' -fuzz '^FuzzTrace$$' -fuzztime $(FUZZTIME)
	@go test ./geom/solid -run '^$$' -fuzz '^FuzzChannel$$' -fuzztime $(FUZZTIME)
	@go test ./geom/hand -run '^$$' -fuzz '^FuzzApply$$' -fuzztime $(FUZZTIME)
	@go test ./pipeline/lines -run '^$$' -fuzz '^FuzzRead$$' -fuzztime $(FUZZTIME)
	@go test ./cmd/inkchannel/desk -run '^$$' -fuzz '^FuzzRequests$$' -fuzztime $(FUZZTIME)
	@go test ./pipeline/letters -run '^$$' -fuzz '^FuzzParse$$' -fuzztime $(FUZZTIME)
	@go test ./pipeline/papers -run '^$$' -fuzz '^FuzzReadPrices$$' -fuzztime $(FUZZTIME)
	@go test ./pipeline -run '^$$' -fuzz '^FuzzReadSettings$$' -fuzztime $(FUZZTIME)
	@go test ./pipeline/power -run '^$$' -fuzz '^FuzzReadStrips$$' -fuzztime $(FUZZTIME)

# One batch of 2,000 photos, a third of them damaged, 300 by a queue whose workers are killed, 5,000 random requests of
# the page, and 200 runs that are stopped at some time: nothing is lost and memory hardly grows. Some 50 minutes.
soak: deps
	@SOAK=200 go test ./cmd/inkchannel -run '^TestKilledAnyTime$$' -count 1 -v -timeout 1h
	@SOAK=300 go test ./cmd/inkchannel -run '^TestQueueLosesNothing$$' -count 1 -v -timeout 1h
	@SOAK=2000 go test ./cmd/inkchannel -run '^TestSoakBatch$$' -count 1 -v -timeout 2h
	@SOAK=5000 go test ./cmd/inkchannel/desk -run '^TestSoakRequests$$' -count 1 -v -timeout 1h

# One operator changed at a time, in SAMPLE places of each package chosen at random (0: in all): which
# do the package's own tests notice? What survives is printed.
SAMPLE ?= 60
MUTANTS ?= ./pipeline/power ./geom ./geom/strip ./geom/hand ./geom/rules ./geom/bed ./geom/regular
mutants: deps
	@go run ./cmd/mutants -sample $(SAMPLE) $(MUTANTS)

# Static checks; the last asks a server for known faults, and is told apart when
# that cannot be reached.
check: deps
	@go vet ./...
	@go run honnef.co/go/tools/cmd/staticcheck@v0.8.2 ./...
	@go run golang.org/x/vuln/cmd/govulncheck@v1.9.0 ./... || echo "govulncheck did not pass, or could not reach its database"

# Make the bundled photo anew, after a change of the drawing or the camera.
photos: deps
	@go run ./cmd/specimen demo cmd/inkchannel/demo.jpg

# Bundle the review page's 3D view from its source and npm's three.js.
WEB_OUT ?= cmd/inkchannel/desk/web/solid.js
web: testdata/npm/node_modules/.package-lock.json
	@NODE_PATH=testdata/npm/node_modules testdata/npm/node_modules/.bin/esbuild cmd/inkchannel/desk/web/solid.src.js \
	  --bundle --minify --format=esm --legal-comments=inline --target=es2022 --log-level=warning --outfile=$(WEB_OUT) --allow-overwrite

# Make README's pictures anew.
pictures: demo test-deps
	@bin/inkchannel demo -o out/mirrored --mirror average --straighten axis --quiet
	@bin/inkchannel demo -o out/byhand --edits "move 60,60 54,66; draw 170,40 200,40" --until hand --quiet
	@mkdir -p out/shots && DESK_SHOTS=$(CURDIR)/out/shots go test ./cmd/inkchannel/desk -count=1 -run 'TestDesk(Solid|Drawing)$$' >/dev/null
	@cp out/shots/overlays.png out/demo/21-drawing.png; cp out/shots/drag.png out/demo/22-drag.png; cp out/shots/solid-apart.png out/demo/23-solid.png
	@/usr/bin/python3 testdata/outside/pictures.py out/demo testdata/pictures out/mirrored 09-symmetry out/byhand 11-hand
	@rm out/demo/2[123]-*.png
	@/usr/bin/python3 testdata/outside/ways.py bin/inkchannel testdata/pictures

deps:
	@$(call install,$(BUILD_PACKAGES))

test-deps: testdata/npm/node_modules/.package-lock.json
	@$(call install,$(TEST_PACKAGES))

testdata/npm/node_modules/.package-lock.json: testdata/npm/package-lock.json
	@command -v npm >/dev/null || { $(call install,nodejs npm); }
	@cd testdata/npm && npm ci --ignore-scripts --no-audit --no-fund --silent
	@touch $@

# A sign of each of npm's feather-icons, each part checked by manifold-3d; the
# failed fit rules go to out/icons.txt. Some 3 minutes; LIMIT=24 for a quick look.
icons: deps test-deps
	@mkdir -p out
	@go run ./cmd/icons -list out/icons.txt $(if $(LIMIT),-limit $(LIMIT))

# Installs those of the packages $(1) that are missing.
define install
missing=""; for p in $(1); do \
  dpkg-query -W -f='$${Status}' $$p 2>/dev/null | grep -q 'ok installed' || missing="$$missing $$p"; done; \
if [ -n "$$missing" ]; then echo "installing$$missing"; \
  sudo=""; [ "$$(id -u)" = 0 ] || sudo=sudo; \
  $$sudo apt-get update -qq && DEBIAN_FRONTEND=noninteractive $$sudo apt-get install -y -qq --no-install-recommends $$missing >/dev/null; fi
endef
