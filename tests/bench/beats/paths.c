/* For teach_paths.py: the expected number of right beats up to the first wrong one in one lattice, and its
   slope by what is added to each step. Sums over all paths in proportion to the best, so that nothing overflows. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* What moves from the steps into a place to those out of it come to: exp of the tempo's cost. */
static float move(float a, float b, float freedom, float leap, float sure) {
  float z = fabsf(a - b) / freedom;
  return expf(-sure * (z < leap ? z : leap));
}

/* Steps rise by `to`; `from` < `to`. Places are numbered from 0. `ends` has 1 for each place that ends a path. */
double right_for(int n, int places, const int *from, const int *to, const float *logs, const unsigned char *is_right,
                 const unsigned char *ends, const double *worth, float first, float freedom, float leap, float sure,
                 double *slope) {
  int *out_start = calloc(places + 2, sizeof(int)), *in_start = calloc(places + 2, sizeof(int));
  int *out = malloc(n * sizeof(int)), *in = malloc(n * sizeof(int));
  for (int s = 0; s < n; s++) out_start[from[s] + 1]++, in_start[to[s] + 1]++;
  for (int p = 0; p < places; p++) out_start[p + 1] += out_start[p], in_start[p + 1] += in_start[p];
  int *fill = malloc((places + 1) * sizeof(int));
  memcpy(fill, out_start, places * sizeof(int));
  for (int s = 0; s < n; s++) out[fill[from[s]]++] = s;
  memcpy(fill, in_start, places * sizeof(int));
  for (int s = 0; s < n; s++) in[fill[to[s]]++] = s;
  size_t pairs = 0;
  size_t *pair_start = malloc((places + 1) * sizeof(size_t));
  for (int p = 0; p < places; p++) {
    pair_start[p] = pairs;
    pairs += (size_t)(in_start[p + 1] - in_start[p]) * (out_start[p + 1] - out_start[p]);
  }
  float *moves = malloc((pairs + 1) * sizeof(float));
  double *mem = calloc(6 * (size_t)n, sizeof(double));
  double *before = mem, *right = mem + n, *after = mem + 2 * n, *still = mem + 3 * n, *onward = mem + 4 * n,
         *led = mem + 5 * n;
  const double never = -1e300;
  for (int s = 0; s < n; s++) before[s] = right[s] = after[s] = never;

#define INS(p) for (int a = in_start[p]; a < in_start[p + 1]; a++)
#define OUTS(p) for (int b = out_start[p]; b < out_start[p + 1]; b++)
#define MOVE(p, a, b) \
  moves[pair_start[p] + (size_t)((a) - in_start[p]) * (out_start[(p) + 1] - out_start[p]) + ((b) - out_start[p])]

  for (int p = 0; p < places; p++) {
    INS(p) OUTS(p) MOVE(p, a, b) = move(logs[in[a]], logs[out[b]], freedom, leap, sure);
    if (p == 0) {
      OUTS(p) {
        int s = out[b];
        before[s] = worth[s] + logf(move(first, logs[s], freedom, leap, sure));
        if (is_right[s]) right[s] = before[s];
      }
      continue;
    }
    double top = never, top_right = never;
    INS(p) {
      if (before[in[a]] > top) top = before[in[a]];
      if (right[in[a]] > top_right) top_right = right[in[a]];
    }
    if (top == never) continue;
    OUTS(p) {
      int s = out[b];
      double sum = 0, sum_right = 0;
      INS(p) {
        double m = MOVE(p, a, b);
        sum += exp(before[in[a]] - top) * m;
        if (top_right > never && right[in[a]] > never) sum_right += exp(right[in[a]] - top_right) * m;
      }
      if (sum > 0) before[s] = worth[s] + top + log(sum);
      if (is_right[s] && sum_right > 0) right[s] = worth[s] + top_right + log(sum_right);
    }
  }
  double total = never;
  for (int p = 0; p < places; p++)
    if (ends[p]) INS(p) {
        after[in[a]] = 0;
        if (before[in[a]] > total) total = before[in[a]];
      }
  double sum = 0;
  for (int p = 0; p < places; p++)
    if (ends[p]) INS(p) sum += exp(before[in[a]] - total);
  total += log(sum);
  for (int p = places - 1; p > 0; p--) {
    if (ends[p]) continue;
    double top = never;
    OUTS(p) if (after[out[b]] > never && after[out[b]] + worth[out[b]] > top) top = after[out[b]] + worth[out[b]];
    if (top == never) continue;
    INS(p) {
      double sum = 0;
      OUTS(p) if (after[out[b]] > never) sum += exp(after[out[b]] + worth[out[b]] - top) * MOVE(p, a, b);
      if (sum > 0) after[in[a]] = top + log(sum);
    }
  }
  double expected = 0;
  for (int s = 0; s < n; s++) {
    if (right[s] > never && after[s] > never) still[s] = exp(fmin(0, right[s] + after[s] - total));
    led[s] = still[s];
    expected += still[s];
  }
  /* How much of what is still right at some step goes on to each later one, right or wrong, and what led to it. */
  for (int p = 1; p < places; p++) {
    if (ends[p]) continue;
    INS(p) {
      int r = in[a];
      double has = onward[r] + still[r];
      if (has == 0 || after[r] == never) continue;
      OUTS(p) {
        int s = out[b];
        if (after[s] > never) onward[s] += has * exp(after[s] + worth[s] - after[r]) * MOVE(p, a, b);
      }
    }
  }
  for (int p = places - 1; p > 0; p--)
    OUTS(p) {
      int s = out[b];
      if (led[s] == 0 || right[s] == never) continue;
      INS(p) if (right[in[a]] > never) led[in[a]] += led[s] * exp(right[in[a]] + worth[s] - right[s]) * MOVE(p, a, b);
    }
  for (int s = 0; s < n; s++) {
    double through =
        before[s] > never && after[s] > never ? exp(fmin(0, before[s] + after[s] - total)) : 0;
    slope[s] = led[s] + onward[s] - expected * through;
  }
  free(out_start), free(in_start), free(out), free(in), free(fill), free(pair_start), free(moves), free(mem);
  return expected;
}
