/* SPDX-License-Identifier: MIT
 *
 * What the tests need of line.c besides its functions.
 */
#include <stddef.h>

#include "line.h"

size_t lines_size(void) {
  return sizeof(struct lines);
}
