module inkchannel

go 1.26.8

require (
	github.com/gen2brain/heic v0.4.5
	github.com/rwcarlsen/goexif v0.0.0-20190401172101-9e8deecbddbd
	github.com/stretchr/testify v1.12.1
	github.com/twpayne/go-geos v0.20.1
	gocv.io/x/gocv v0.31.0
	golang.org/x/image v0.47.0
)

require (
	github.com/ebitengine/purego v0.8.3 // indirect
	github.com/tetratelabs/wazero v1.9.0 // indirect
	go.yaml.in/yaml/v3 v3.0.5 // indirect
)
