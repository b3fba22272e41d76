/* Scalar kernel of one job, as the floor of the batch benchmark. Not part of the library.
 *
 * 8 candidates x 7 legs x 9 grade nodes x up to 10 gears: road load, engine speed, torque from a
 * uniform grid, choice of gear, fuel, sums over the use, 14 rule scores. The library integrates the
 * grades in closed form and computes more metrics; this is the least that any way of doing it does.
 *
 * Usage: kernel JOBS ROUNDS. Prints the best time per job in microseconds, and a check sum so that
 * nothing is optimized away.
 */
#define _POSIX_C_SOURCE 199309L
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

enum { CANDIDATES = 8, LEGS = 7, NODES = 9, GEARS = 10, POINTS = 64, RULES = 14, METRICS = 6 };

typedef struct {
    double axle_ratio[CANDIDATES], gear_ratio[GEARS], gear_efficiency[GEARS];
    double torque_nm[POINTS], start_rpm, per_step;
    double circumference_m, mass_kg, drag_n, reserve, lug_rpm, governed_rpm;
    double friction[3], displacement_m3, efficiency, heat_per_liter;
    double share[LEGS], speed_mps[LEGS], deviation[LEGS], force[3];
} Job;

typedef struct {
    int metric;
    double low, low_soft, high_soft, high, weight;
} Rule;

/* Gauss-Hermite nodes and weights for a standard normal variable, 9 points; computed from the
 * roots of the Hermite polynomial, see any handbook (Abramowitz and Stegun, table 25.10). */
static const double NODE[NODES] = {
    -4.512745863399783, -3.20542900285647, -2.07684797867783, -1.0232556637891326, 0.0,
    1.0232556637891326, 2.07684797867783,  3.20542900285647,  4.512745863399783};
static const double WEIGHT[NODES] = {
    2.2345844007746563e-05, 0.0027891413212317693, 0.049916406765217876, 0.24409750289493909,
    0.40634920634920635,    0.24409750289493909,   0.049916406765217876, 0.0027891413212317693,
    2.2345844007746563e-05};

static double torque_at(const Job *job, double rpm) {
    double place = (rpm - job->start_rpm) * job->per_step;
    if (place < 0.0) place = 0.0;
    if (place > POINTS - 1.001) place = POINTS - 1.001;
    int cell = (int)place;
    double low = job->torque_nm[cell];
    return low + (place - cell) * (job->torque_nm[cell + 1] - low);
}

static double band(const Rule *rule, double value) {
    if (value <= rule->low || value >= rule->high) return 0.0;
    if (value < rule->low_soft) return (value - rule->low) / (rule->low_soft - rule->low);
    if (value > rule->high_soft) return (rule->high - value) / (rule->high - rule->high_soft);
    return 1.0;
}

static int advise(const Job *job, const Rule *rules, double *best_score) {
    int pick = 0;
    *best_score = -1.0;
    for (int candidate = 0; candidate < CANDIDATES; candidate++) {
        double metric[METRICS] = {0};
        for (int leg = 0; leg < LEGS; leg++) {
            double speed = job->speed_mps[leg];
            double level = job->force[0] + speed * (job->force[1] + speed * job->force[2]);
            level += job->drag_n;
            double shaft = 60.0 * speed / job->circumference_m * job->axle_ratio[candidate];
            double rpm[GEARS], held[GEARS], friction[GEARS];
            for (int gear = 0; gear < GEARS; gear++) {
                double n = shaft * job->gear_ratio[gear];
                double torque = torque_at(job, n) * (1.0 - job->reserve);
                rpm[gear] = n;
                held[gear] = n < job->lug_rpm || n > job->governed_rpm
                                 ? -1e9
                                 : torque * n * 0.10471975511965977 / speed
                                       * job->gear_efficiency[gear];
                double pressure = job->friction[0] + n * (job->friction[1] + n * job->friction[2]);
                friction[gear] = pressure * job->displacement_m3 * n / 120.0;
            }
            double fuel = 0.0, below_top = 0.0;
            for (int node = 0; node < NODES; node++) {
                double grade = NODE[node] * job->deviation[leg];
                double force = level + job->mass_kg * 9.80665 * grade;
                int gear = GEARS - 1;
                while (gear > 0 && held[gear] < force) gear--;
                double power = friction[gear] + force * speed / job->gear_efficiency[gear];
                if (power > 0.0) fuel += WEIGHT[node] * power;
                if (gear < GEARS - 1) below_top += WEIGHT[node];
            }
            double share = job->share[leg];
            metric[0] += share * fuel / (job->efficiency * job->heat_per_liter * speed) * 1e5;
            metric[1] += share * below_top;
            metric[2] += share * rpm[GEARS - 1];
            metric[3] += share * (held[GEARS - 1] - level) / (job->mass_kg * 9.80665);
            if (rpm[GEARS - 1] > metric[4]) metric[4] = rpm[GEARS - 1];
        }
        metric[5] = job->axle_ratio[candidate] * job->gear_ratio[0];
        double score = 0.0, weight = 0.0;
        for (int rule = 0; rule < RULES; rule++) {
            score += rules[rule].weight * band(&rules[rule], metric[rules[rule].metric]);
            weight += rules[rule].weight;
        }
        score /= weight;
        if (score > *best_score) {
            *best_score = score;
            pick = candidate;
        }
    }
    return pick;
}

static double uniform(unsigned long long *state) {
    *state = *state * 6364136223846793005ULL + 1442695040888963407ULL;
    return (double)(*state >> 11) / 9007199254740992.0;
}

static void invent(Job *job, unsigned long long *state) {
    static const double gears[GEARS] = {4.9, 3.3, 2.4, 1.8, 1.5, 1.2, 1.0, 0.84, 0.73, 0.64};
    static const double speeds[LEGS] = {28.0, 24.0, 12.5, 27.0, 20.0, 15.0, 30.0};
    static const double deviations[LEGS] = {0.012, 0.02, 0.015, 0.015, 0.035, 0.01, 0.02};
    for (int c = 0; c < CANDIDATES; c++) job->axle_ratio[c] = 3.13 + 0.22 * c;
    for (int g = 0; g < GEARS; g++) {
        job->gear_ratio[g] = gears[g];
        job->gear_efficiency[g] = 0.91;
    }
    for (int k = 0; k < POINTS; k++) job->torque_nm[k] = 380.0 - 0.15 * (k - 35.0) * (k - 35.0);
    job->start_rpm = 500.0;
    job->per_step = 0.01;
    job->circumference_m = 2.44 * (1.0 + 0.2 * uniform(state));
    job->mass_kg = 2200.0 + 2500.0 * uniform(state);
    job->drag_n = 100.0;
    job->reserve = 0.1;
    job->lug_rpm = 1100.0;
    job->governed_rpm = 5800.0;
    job->friction[0] = 72e3;
    job->friction[1] = 11.0;
    job->friction[2] = 3.7e-3;
    job->displacement_m3 = 3.6e-3 * (0.8 + 0.5 * uniform(state));
    job->efficiency = 0.42;
    job->heat_per_liter = 31.0e6;
    job->force[0] = 0.011 * 9.80665 * job->mass_kg;
    job->force[1] = 0.0;
    job->force[2] = 0.8;
    for (int l = 0; l < LEGS; l++) {
        job->share[l] = 1.0 / LEGS;
        job->speed_mps[l] = speeds[l] * (0.9 + 0.2 * uniform(state));
        job->deviation[l] = deviations[l];
    }
}

int main(int count, char **words) {
    long jobs = count > 1 ? atol(words[1]) : 10000;
    long rounds = count > 2 ? atol(words[2]) : 5;
    if (jobs < 1 || rounds < 1) {
        fprintf(stderr, "usage: kernel JOBS ROUNDS, both above zero\n");
        return 2;
    }
    Job *batch = malloc((size_t)jobs * sizeof *batch);
    if (!batch) {
        fprintf(stderr, "not enough memory for %ld jobs\n", jobs);
        return 1;
    }
    unsigned long long state = 1;
    for (long k = 0; k < jobs; k++) invent(&batch[k], &state);
    Rule rules[RULES];
    for (int r = 0; r < RULES; r++) {
        static const double middle[METRICS] = {12.0, 0.2, 1700.0, 0.04, 2100.0, 17.0};
        double m = middle[r % METRICS];
        Rule rule = {r % METRICS, 0.4 * m, 0.8 * m, 1.2 * m, 1.8 * m, 1.0 + 0.1 * r};
        rules[r] = rule;
    }
    double best = 1e9, sum = 0.0;
    for (long round = 0; round < rounds; round++) {
        struct timespec start, end;
        clock_gettime(CLOCK_MONOTONIC, &start);
        for (long k = 0; k < jobs; k++) {
            double score;
            sum += advise(&batch[k], rules, &score);
            sum += score;
        }
        clock_gettime(CLOCK_MONOTONIC, &end);
        double spent = (double)(end.tv_sec - start.tv_sec) + 1e-9 * (double)(end.tv_nsec - start.tv_nsec);
        if (spent < best) best = spent;
    }
    printf("%.4f %.6f\n", best / (double)jobs * 1e6, sum);
    free(batch);
    return 0;
}
