/* SPDX-License-Identifier: MIT
 *
 * A board with the firmware on it, simulated by simavr's library: board FIRMWARE [paced]
 *
 * Standard input is what is done to it, in order, one line each, at microseconds after its power-up:
 *
 *   AT_US pin PORT NUMBER LEVEL   a pin is let go (1: its pull-up lifts it) or held to ground (0)
 *   AT_US stall                   the clock's interrupt comes no more
 *   AT_US end
 *
 * Standard output is what it sends: `AT_US BYTE` a line, or with `paced` the bytes themselves, as fast as a clock on
 * the wall goes. Status 1: it crashed, or was told what it does not know.
 */
#define _GNU_SOURCE /* of clock_nanosleep */
#include <inttypes.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include <simavr/avr_ioport.h>
#include <simavr/avr_uart.h>
#include <simavr/sim_avr.h>
#include <simavr/sim_elf.h>

#define F_CPU 16000000u
#define PACE_US 1000u
#define STEP_CYCLES 320u
#define TIMSK0 0x6E /* ATmega328P data sheet, register summary */

static avr_t *avr;
static bool paced;

static uint64_t at_us(void) {
  return avr->cycle / (F_CPU / 1000000u);
}

static void sent(struct avr_irq_t *irq, uint32_t value, void *param) {
  (void)irq;
  (void)param;
  if (paced) {
    uint8_t byte = (uint8_t)value;
    if (write(STDOUT_FILENO, &byte, 1) != 1) _exit(1);
  } else {
    printf("%" PRIu64 " %" PRIu32 "\n", at_us(), value & 0xFF);
  }
}

/* The library tells what it loads, and of resets, on the standard output. */
static void told(avr_t *of, const int level, const char *format, va_list values) {
  (void)of;
  if (level <= LOG_WARNING) vfprintf(stderr, format, values);
}

static void keep_pace(const struct timespec *start) {
  uint64_t us = at_us();
  struct timespec due = *start;
  due.tv_sec += (time_t)(us / 1000000u);
  due.tv_nsec += (long)(us % 1000000u) * 1000;
  if (due.tv_nsec >= 1000000000L) {
    due.tv_sec++;
    due.tv_nsec -= 1000000000L;
  }
  clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &due, NULL);
}

static bool run_until(uint64_t until_us, const struct timespec *start) {
  uint64_t pace_us = at_us() + PACE_US;
  while (at_us() < until_us) {
    int state = avr_run(avr);
    if (state == cpu_Done || state == cpu_Crashed) return false;
    if (paced && at_us() >= pace_us) {
      pace_us += PACE_US;
      keep_pace(start);
    }
  }
  return true;
}

static bool board_made(const char *path) {
  static elf_firmware_t firmware;
  avr_global_logger_set(told);
  if (elf_read_firmware(path, &firmware) != 0) return false;
  avr = avr_make_mcu_by_name("atmega328p");
  if (avr == NULL || avr_init(avr) != 0) return false;
  firmware.frequency = F_CPU;
  avr_load_firmware(avr, &firmware);
  /* It looks up from running this often: a pin moves no later. */
  avr->run_cycle_limit = STEP_CYCLES;
  uint32_t flags = 0;
  avr_ioctl(avr, AVR_IOCTL_UART_GET_FLAGS('0'), &flags);
  flags &= ~(uint32_t)AVR_UART_FLAG_STDIO;
  avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
  avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT), sent, NULL);
  return true;
}

/* One line of what is done; false where it is the last, or not known: then `*sound` is false. */
static bool done(bool *sound, const struct timespec *start) {
  uint64_t when_us;
  char what[8];
  *sound = scanf("%" SCNu64 " %7s", &when_us, what) == 2 && run_until(when_us, start);
  if (!*sound || strcmp(what, "end") == 0) return false;
  char port;
  unsigned number, level;
  if (strcmp(what, "stall") == 0) {
    avr->data[TIMSK0] = 0;
  } else if (strcmp(what, "pin") == 0 && scanf(" %c %u %u", &port, &number, &level) == 3) {
    avr_raise_irq(avr_io_getirq(avr, (uint32_t)AVR_IOCTL_IOPORT_GETIRQ(port), (int)number), level);
  } else {
    *sound = false;
  }
  return *sound;
}

int main(int count, char **given) {
  paced = count == 3 && strcmp(given[2], "paced") == 0;
  if (count < 2 || !board_made(given[1])) return 1;
  struct timespec start;
  clock_gettime(CLOCK_MONOTONIC, &start);
  bool sound;
  while (done(&sound, &start)) {
  }
  fflush(stdout);
  return sound ? 0 : 1;
}
