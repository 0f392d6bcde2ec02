/* The loop of BenchmarkSpectrum in C, with single-precision FFTW: 8-bit I/Q to
 * averaged spectrum, one core. Times itself.
 *
 *   spectrum FILE POINTS PASSES
 *
 * FILE holds interleaved 8-bit I/Q. Frames of POINTS overlap by half and are
 * weighted with a periodic Hann window. Prints the best pass in million samples
 * a second, then the sum over all bins of the averaged power, by which the
 * caller sees that both loops computed the same thing.
 *
 * Sums are kept in single precision and without those of the kurtosis: less
 * work than the Go loop does, so that the comparison does not flatter it.
 */
#include <fftw3.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

/* Processor time: other programs on the core do not count. */
static double now(void) {
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return t.tv_sec + 1e-9 * t.tv_nsec;
}

static uint8_t *load(const char *path, long *bytes) {
    FILE *f = fopen(path, "rb");
    if (!f) return NULL;
    fseek(f, 0, SEEK_END);
    *bytes = ftell(f);
    rewind(f);
    uint8_t *data = malloc(*bytes);
    if (fread(data, 1, *bytes, f) != (size_t)*bytes) return NULL;
    fclose(f);
    return data;
}

int main(int argc, char **argv) {
    if (argc != 4) return 2;
    long bytes;
    uint8_t *iq = load(argv[1], &bytes);
    if (!iq) return 1;
    int n = atoi(argv[2]), passes = atoi(argv[3]);
    long samples = bytes / 2;

    /* Each weight stands twice, beside the real and the imaginary part. */
    float *restrict window = fftwf_malloc(2 * n * sizeof *window);
    float *restrict sum = fftwf_malloc(n * sizeof *sum);
    float *restrict in = fftwf_malloc(2 * n * sizeof *in);
    float *restrict out = fftwf_malloc(2 * n * sizeof *out);
    for (int i = 0; i < n; i++)
        window[2 * i] = window[2 * i + 1] =
            (0.5 - 0.5 * cos(2 * M_PI * i / n)) / (0.5 * n);
    fftwf_plan plan = fftwf_plan_dft_1d(n, (fftwf_complex *)in, (fftwf_complex *)out,
                                        FFTW_FORWARD, FFTW_MEASURE);

    double best = 1e30, total = 0;
    for (int pass = 0; pass < passes; pass++) {
        memset(sum, 0, n * sizeof *sum);
        long frames = 0;
        double began = now();
        for (long at = 0; at + n <= samples; at += n / 2) {
            const uint8_t *restrict c = iq + 2 * at;
            for (int i = 0; i < 2 * n; i++)
                in[i] = ((float)c[i] - 127.5f) * (1.0f / 128) * window[i];
            fftwf_execute(plan);
            for (int i = 0; i < n; i++)
                sum[i] += out[2 * i] * out[2 * i] + out[2 * i + 1] * out[2 * i + 1];
            frames++;
        }
        double took = now() - began;
        if (took < best) best = took;
        total = 0;
        for (int i = 0; i < n; i++) total += sum[i] / frames;
    }
    printf("%.6f %.9e\n", 1e-6 * samples / best, total);
    return 0;
}
