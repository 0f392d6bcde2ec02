// The parts of Apache ECharts that the report page draws with, and no others.
// The page's own script (../script) finds them as `nightfloorCharts`.
import { init, use } from "echarts/core";
import { CustomChart, LineChart, ScatterChart } from "echarts/charts";
import { GridComponent, TitleComponent } from "echarts/components";
import { CanvasRenderer } from "echarts/renderers";

use([CustomChart, LineChart, ScatterChart, GridComponent, TitleComponent, CanvasRenderer]);

globalThis.nightfloorCharts = { init };
