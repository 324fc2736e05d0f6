// Package turbo decodes and encodes JPEG in memory by libjpeg-turbo's TurboJPEG library.
package turbo
