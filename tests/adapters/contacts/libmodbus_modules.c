/* Digital input modules on libmodbus: `modules SHARED tcp PORT`, which tells the port that it got, or
 * `modules SHARED rtu DEVICE UNIT`, 115200 baud 8N1. What they are is in the file SHARED, 64 bytes for each unit from 0. */
#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <modbus.h>
#include <signal.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/prctl.h>

enum { INPUTS = 16, UNITS = 256 };

struct module {
    uint8_t inputs[INPUTS];
    uint8_t coils[INPUTS];
    uint8_t present;
    uint8_t exception; /* answered to everything where it is not 0 */
    uint8_t unused[30];
};

static const struct module *modules;
static modbus_mapping_t *mapping;

static void stop(const char *what)
{
    fprintf(stderr, "modules: %s: %s\n", what, modbus_strerror(errno));
    exit(1);
}

static void answer(modbus_t *line, const uint8_t *asked, int size)
{
    const struct module *module = &modules[asked[modbus_get_header_length(line) - 1]];
    if (!module->present)
        return;
    if (module->exception) {
        modbus_reply_exception(line, asked, module->exception);
        return;
    }
    memcpy(mapping->tab_input_bits, module->inputs, INPUTS);
    memcpy(mapping->tab_bits, module->coils, INPUTS);
    modbus_reply(line, asked, size, mapping);
}

static void serve_tcp(int number)
{
    uint8_t asked[MODBUS_TCP_MAX_ADU_LENGTH];
    struct sockaddr_in address;
    socklen_t length = sizeof address;
    int size;
    modbus_t *line = modbus_new_tcp("127.0.0.1", number);
    int listener = line == NULL ? -1 : modbus_tcp_listen(line, 8);
    if (listener < 0 || getsockname(listener, (struct sockaddr *)&address, &length) < 0)
        stop("listen");
    printf("%d\n", ntohs(address.sin_port));
    fflush(stdout);
    while (modbus_tcp_accept(line, &listener) >= 0) {
        while ((size = modbus_receive(line, asked)) >= 0)
            answer(line, asked, size);
        modbus_close(line);
    }
    stop("accept");
}

static void serve_rtu(const char *device, int unit)
{
    uint8_t asked[MODBUS_RTU_MAX_ADU_LENGTH];
    modbus_t *line = modbus_new_rtu(device, 115200, 'N', 8, 1);
    if (line == NULL || modbus_set_slave(line, unit) < 0 || modbus_connect(line) < 0)
        stop(device);
    printf("0\n");
    fflush(stdout);
    for (;;) {
        int size = modbus_receive(line, asked);
        if (size > 0)
            answer(line, asked, size);
        else if (size < 0 && errno == EIO)
            stop(device);
    }
}

int main(int count, char **words)
{
    /* Nothing of a test outlives it. */
    prctl(PR_SET_PDEATHSIG, SIGKILL);
    if (count < 4)
        return 2;
    int file = open(words[1], O_RDONLY);
    modules = mmap(NULL, UNITS * sizeof *modules, PROT_READ, MAP_SHARED, file, 0);
    mapping = modbus_mapping_new(INPUTS, INPUTS, 0, 0);
    if (file < 0 || modules == MAP_FAILED || mapping == NULL)
        stop(words[1]);
    if (strcmp(words[2], "tcp") == 0)
        serve_tcp(atoi(words[3]));
    else if (count == 5)
        serve_rtu(words[3], atoi(words[4]));
    return 2;
}
